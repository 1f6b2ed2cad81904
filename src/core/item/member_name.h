#pragma once
#include <string_view>

namespace sumplog {

/// True when a file name that came out of a job or an archive may be used below a folder: no absolute path, no "." or ".."
/// or empty part, no backslash, no control character, at most 100 bytes (POSIX ustar, `name`).
[[nodiscard]] bool is_safe_member_name(std::string_view name);

}  // namespace sumplog
