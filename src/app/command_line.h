#pragma once

namespace sumplog {

/// Reads the call and runs its command.
/// out  exit status as docs/user_guide.md says: 0 done, 1 the work failed, 2 the call or an input file is wrong
[[nodiscard]] int run_command_line(int count, const char* const* words, const char* const* environment);

}  // namespace sumplog
