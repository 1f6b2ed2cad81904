#pragma once
#include <cstdint>
#include <string>
#include <vector>

#include "io/job_check.h"
#include "io/sha256.h"

namespace sumplog {

enum class PhotoState : std::uint8_t {
  whole,       ///< its SHA-256 is the one in the job
  missing,     ///< no such file
  altered,     ///< the file has another SHA-256, or the job names none
  unreadable,  ///< not a plain file, no permission, a disk error, or a name that leads elsewhere
};

/// What became of one photo that a job names.
struct PhotoFinding {
  std::string file;
  PhotoState state = PhotoState::whole;
  std::uint64_t bytes = 0;
  std::string why;  ///< of `unreadable`
};

/// Looks for the photos of a job in a folder and holds them against their SHA-256. Links are not followed: a job file from
/// elsewhere must not name what lies outside.
[[nodiscard]] std::vector<PhotoFinding> find_photos(const std::vector<ListedPhoto>& listed,
                                                    const std::string& folder);

/// The same for one photo, with its content.
/// in   most  a larger one is not read: it is `unreadable`
/// out  `bytes` is filled in for a whole one
[[nodiscard]] PhotoFinding read_photo(const ListedPhoto& listed, const std::string& folder,
                                      std::uint64_t most, std::string& bytes);

/// photo "pan.jpg" is missing: one clause; empty for a whole one.
[[nodiscard]] std::string text(const PhotoFinding& photo);

}  // namespace sumplog
