#pragma once
#include <string>

#include "core/decoder/toml_table.h"

namespace sumplog {

/// What signals.toml and service.toml begin with.
struct FileHead {
  std::string id;
  std::string title;
};

/// Reads `format`, `id` and `title`. A job file holds the text of its decoder for years: `format` says how to
/// read it.
[[nodiscard]] FileHead read_file_head(const TomlTable& top);

}  // namespace sumplog
