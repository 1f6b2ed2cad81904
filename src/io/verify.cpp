#include "io/verify.h"

#include <fcntl.h>

#include <cerrno>

#include "io/durable_file.h"

namespace sumplog {

std::string_view text_of(SealState state) {
  switch (state) {
    case SealState::closed: return "closed";
    case SealState::open: return "open";
    case SealState::torn: return "torn";
    case SealState::changed: return "changed";
  }
  return "";
}

std::string Verification::text() const {
  const auto count = [](std::uint64_t n, std::string_view what) {
    return std::to_string(n) + ' ' + std::string(what) + (n == 1 ? "" : "s");
  };
  switch (state) {
    case SealState::closed: return "closed: sealed to the last byte";
    case SealState::open:
      return "open: every seal fits, " + count(unsealed_bytes, "byte") + " not sealed yet";
    case SealState::torn:
      return "torn: every seal fits, the last line is a fragment of " + count(fragment_bytes, "byte") + "; " +
             count(unsealed_bytes, "byte") + " not sealed";
    case SealState::changed:
      return "changed: in lines " + std::to_string(changed->first) + " to " + std::to_string(changed->last) +
             "; what comes after them is not judged";
  }
  return {};
}

Result<Verification> verify(const std::string& path, std::string_view expected_fingerprint) {
  const FileDescriptor file(::open(path.c_str(), O_RDONLY | O_CLOEXEC));
  if (!file) return tl::unexpected(disk_fault(errno, "cannot open the job", path));
  const auto size = size_of(file, path);
  if (!size) return tl::unexpected(size.error());
  JobScan scan{std::string(expected_fingerprint)};
  // A job that is being recorded grows meanwhile: what it had at the start is checked.
  auto read = read_blocks(file, *size, path, [&](std::string_view block) -> Result<void> {
    scan.on_bytes(block);
    return {};
  });
  if (!read) return tl::unexpected(read.error());
  scan.on_end();

  const JobShape& shape = scan.shape();
  if (!shape.job_file)
    return fault("not a job file: its first line is not '" + std::string(kJobFileMagic) + "'", path,
                 "name a file that sumplog recorded");
  Verification result;
  result.state = shape.changed              ? SealState::changed
                 : shape.closed             ? SealState::closed
                 : shape.fragment_bytes > 0 ? SealState::torn
                                            : SealState::open;
  result.bytes = shape.bytes;
  result.lines = shape.lines;
  result.unsealed_bytes = shape.changed ? 0 : shape.bytes - shape.sealed_bytes;
  result.fragment_bytes = shape.fragment_bytes;
  result.changed = shape.changed;
  result.fingerprint = shape.seal ? shape.seal->sha256 : "";
  result.sealed_line = shape.seal_line;
  result.expected_line = shape.expected_line;
  return result;
}

}  // namespace sumplog
