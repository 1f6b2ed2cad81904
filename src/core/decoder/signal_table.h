#pragma once
#include <vector>

#include "core/decoder/decoder.h"
#include "core/decoder/toml_table.h"

namespace sumplog {

/// Reads one [[signal]] and holds it against its check vectors. A signal in degF comes out in degC.
/// in   ecus  those of the same file
/// err  in the table's FirstMistake; the signal is then worthless
[[nodiscard]] Signal read_signal(const TomlTable& table, const std::vector<Unit>& ecus);

}  // namespace sumplog
