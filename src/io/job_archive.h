#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/item/result.h"
#include "io/job_photos.h"
#include "io/tar_file.h"
#include "io/verify.h"

namespace sumplog {

// A job and its photos as one plain tar file. Members, in this order: README.txt, the job file (named by its begin and id), the
// photos in the order of their entries. Owner 0, mode 0644, time of the job's begin: the same job gives the same bytes.
// src  docs/job_file.md

/// What went into an archive.
struct ArchivedJob {
  std::string name;  ///< of the job file in it
  Verification job;
  std::vector<PhotoFinding> photos;  ///< those that are not whole were left out
};

/// Writes the archive of a job file and of the photos beside it. A job that is being recorded goes in as far as it has come.
/// err  no such job · not a job file · a file that changed meanwhile · what `to` says
[[nodiscard]] Result<ArchivedJob> write_archive(const std::string& job_path, const ByteSink& to);

/// What stands in an archive, held against itself.
struct ArchiveVerification {
  std::optional<Verification> job;     ///< nothing: no job file could be read out of it
  std::vector<PhotoFinding> photos;    ///< all that the job names
  std::vector<std::string> strangers;  ///< members that the job does not name
  std::string damage;                  ///< why it could not be read to its end; empty: it could
  /// How the archive is not as it would be written from its own job and photos: names, order, times, padding, README. Empty: it
  /// is. Asked only where its members could be read.
  std::string written_otherwise;

  [[nodiscard]] bool holds() const;
  /// What is wrong beside the job file itself, one clause each.
  [[nodiscard]] std::vector<std::string> problems() const;
};

/// Checks an archive without unpacking it: every seal of the job file, every photo against its SHA-256, every other byte against
/// what would be written. It writes nothing to a disk.
/// in   expected_fingerprint  as for verify()
/// err  the file cannot be read
[[nodiscard]] Result<ArchiveVerification> verify_archive(const std::string& path,
                                                         std::string_view expected_fingerprint = {});

/// True when the file begins like a tar archive. err  it cannot be read
[[nodiscard]] Result<bool> is_archive(const std::string& path);

}  // namespace sumplog
