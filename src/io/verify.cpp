#include "io/verify.h"

#include <fcntl.h>

#include <cerrno>

#include "io/durable_file.h"
#include "io/job_check.h"

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

namespace {

std::string count(std::uint64_t n, std::string_view what) {
  return std::to_string(n) + ' ' + std::string(what) + (n == 1 ? "" : "s");
}

std::string state_text(const Verification& v) {
  switch (v.state) {
    case SealState::closed: return "closed: sealed to the last byte";
    case SealState::open:
      return "open: every seal fits, " + count(v.unsealed_bytes, "byte") + " not sealed yet";
    case SealState::torn:
      return "torn: every seal fits, the last line is a fragment of " + count(v.fragment_bytes, "byte") +
             "; " + count(v.unsealed_bytes, "byte") + " not sealed";
    case SealState::changed:
      return "changed: in lines " + std::to_string(v.changed->first) + " to " +
             std::to_string(v.changed->last) + "; what comes after them is not judged";
  }
  return {};
}

}  // namespace

std::string Verification::text() const {
  std::string text = state_text(*this);
  if (unreadable_line > 0)
    text += "; line " + std::to_string(unreadable_line) + ", behind the last seal, cannot be read";
  return text;
}

std::string Verification::proof() const {
  if (expected && expected_line == 0)
    return "the expected fingerprint is not in this file: it is not the file that the fingerprint was taken "
           "from, or it was changed or cut since";
  if (expected) {
    const std::string line = std::to_string(expected_line);
    if (state != SealState::changed && expected_line == lines && fragment_bytes == 0)
      return "the fingerprint fits: this is, byte for byte, the file that it was taken from";
    return "the fingerprint fits at line " + line +
           ": up to there this is, byte for byte, the file that it was taken from; what follows came later";
  }
  if (state == SealState::open || state == SealState::torn)
    return "that something was cut off behind the last seal, or that somebody computed all seals anew, is "
           "found "
           "only with --fingerprint";
  return "that somebody computed all seals anew is found only with --fingerprint";
}

Result<Verification> verify(const std::string& path, std::string_view expected_fingerprint,
                            std::vector<ListedPhoto>* photos) {
  const FileDescriptor file(::open(path.c_str(), O_RDONLY | O_CLOEXEC));
  if (!file) return tl::unexpected(disk_fault(errno, "cannot open the job", path));
  const auto size = size_of(file, path);
  if (!size) return tl::unexpected(size.error());
  JobCheck check(expected_fingerprint);
  // A job that is being recorded grows meanwhile: what it had at the start is checked.
  auto read = read_blocks(file, *size, path, [&](std::string_view block) -> Result<void> {
    check.on_bytes(block);
    return {};
  });
  if (!read) return tl::unexpected(read.error());
  check.on_end();
  if (!check.is_job_file())
    return fault("not a job file: its first line is not '" + std::string(kJobFileMagic) + "'", path,
                 "name a file that sumplog recorded");
  if (photos != nullptr) *photos = check.photos();
  return check.verification();
}

Result<std::string> typed_fingerprint(std::string_view text) {
  constexpr std::size_t kDigits = 64;  // FIPS 180-4, SHA-256 as hex
  std::string digits;
  for (const char c : text) {
    if (c == ' ') continue;
    digits += c >= 'A' && c <= 'F' ? static_cast<char>(c - 'A' + 'a') : c;
  }
  if (digits.size() != kDigits || digits.find_first_not_of("0123456789abcdef") != std::string::npos)
    return fault(
        "a fingerprint has 64 hex digits; this one has " + std::to_string(digits.size()) + " characters",
        "--fingerprint", "copy all of it from the report");
  return digits;
}

}  // namespace sumplog
