#pragma once
#include <string_view>

namespace sumplog {

inline constexpr std::string_view kReadmeName = "README.txt";

/// The text that stands first in every archive. It is part of the form: `verify` holds it against the archive byte for byte, so a
/// changed text is a new form with a new number in its first line.
inline constexpr std::string_view kArchiveReadme =
    R"(sumplog archive 1

One job on an automatic transmission: the job file (a text log, .log) and the
photos that it names. The job file holds everything that was read from the
vehicle and everything that was typed, with the time of each.

Was it changed?
  sumplog verify ARCHIVE.tar --fingerprint HEX
HEX is the fingerprint on the customer's sheet. Without it, a change made by
somebody who also computed all seals of the job file anew is not found.
Without sumplog: the fingerprint is the SHA-256 of all bytes of the job file
before its last line.
  head -n -1 JOB.log | sha256sum
The SHA-256 of each photo stands in the entry "photo" that names it.

What was shown?
  sumplog replay JOB.log

Frames stand in the form of candump, so other programs can read them too. The
archive names the vehicle and the customer: keep it as you keep their papers.

Hot fluid, a running engine, a raised car: follow the vehicle maker's
procedure, local codes and licensed practice. sumplog only reads; it can
change nothing in the vehicle.
)";

}  // namespace sumplog
