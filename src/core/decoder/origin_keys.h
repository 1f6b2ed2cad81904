#pragma once
#include <string>

#include "core/decoder/decoder.h"
#include "core/decoder/toml_table.h"

namespace sumplog {

struct OriginKeys {
  Origin origin = Origin::invented;
  std::string note;
};

/// Reads `origin` and `origin_note`. The note may be left out only for an invented figure.
[[nodiscard]] OriginKeys read_origin(const TomlTable& table);

}  // namespace sumplog
