#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/item/result.h"
#include "io/job_scan.h"

namespace sumplog {

// What a seal proves, and what it does not.
// Proved by the file alone: no byte before the last good seal was changed, cut, inserted, removed, swapped or
// doubled by accident, or by someone who did not write new seals. Not proved by the file alone: the bytes
// after the last seal (at most what one second brought, while the job is open); that nothing was cut off an
// open job at a seal; anything against someone who computes all seals anew: the hash has no secret. Against
// him helps only a fingerprint kept elsewhere: the report that the customer holds prints it. A file that has
// a good seal with that fingerprint is, up to that seal, byte for byte the file that the report was made
// from.

/// A photo that an entry of the job names.
struct ListedPhoto {
  std::string file;
  std::string sha256;  ///< lower-case hex; empty: the entry has none
};

enum class SealState : std::uint8_t {
  closed,   ///< sealed to the last byte, and the job was ended
  open,     ///< every seal fits; the job goes on, or was never closed
  torn,     ///< as open, and the last line is a fragment: normal after a power cut
  changed,  ///< a seal does not fit, or something follows the closing seal
};

/// "closed", "open", "torn", "changed": as machines read it.
[[nodiscard]] std::string_view text_of(SealState state);

struct Verification {
  SealState state = SealState::open;
  std::uint64_t bytes = 0;
  std::uint64_t lines = 0;  ///< whole lines
  std::uint64_t unsealed_bytes =
      0;  ///< after the last good seal, the fragment included; changed: not judged, 0
  std::uint64_t fragment_bytes = 0;   ///< after the last newline
  std::optional<LineRange> changed;   ///< a change lies in these lines; the lines after them are not judged
  std::uint64_t unreadable_line = 0;  ///< a whole line behind the last good seal that is no item; 0: none
  std::string fingerprint;            ///< `sha256` of the last good seal; empty: no good seal
  std::uint64_t sealed_line = 0;      ///< the line of that seal
  bool expected = false;              ///< a fingerprint kept elsewhere was given
  std::uint64_t expected_line =
      0;                  ///< the line of the good seal that has the expected fingerprint; 0: none has it
  bool redacted = false;  ///< the file says that it is a copy without plate, VIN and customer

  /// Nothing speaks against the file. An open or torn one is whole as far as its seals go.
  [[nodiscard]] bool holds() const {
    return state != SealState::changed && unreadable_line == 0 && (!expected || expected_line > 0);
  }
  /// One sentence for a person, without the file's name and the fingerprint.
  [[nodiscard]] std::string text() const;
  /// What this proves, and what it cannot: one sentence.
  [[nodiscard]] std::string proof() const;
};

/// Checks every seal of a job file. It only reads, takes no lock, and needs memory for one item, whatever the
/// file's length.
/// in   expected_fingerprint  one kept elsewhere (64 lower-case hex digits), or empty
/// out  `photos`: where it is given, the photos that the job names; verify() does not look for them
/// err  the file cannot be read · its first line is not that of a job file
/// src  docs/job_file.md
[[nodiscard]] Result<Verification> verify(const std::string& path, std::string_view expected_fingerprint = {},
                                          std::vector<ListedPhoto>* photos = nullptr);

/// A fingerprint as a person types it from paper: blanks and capitals do not count.
/// err  not 64 hex digits
[[nodiscard]] Result<std::string> typed_fingerprint(std::string_view text);

}  // namespace sumplog
