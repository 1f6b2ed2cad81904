#pragma once
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "core/item/result.h"

namespace sumplog {

/// Largest TOML text that is read: the text of a decoder is copied into every job file.
inline constexpr std::size_t kMaxTomlBytes = std::size_t{256} * 1024;

struct TomlMember;

/// One value of a TOML text and the line on which it stands (for a member of a table, the line of its key).
/// Hides the library that parses.
struct TomlValue {
  enum class Kind : std::uint8_t { text, integer, number, flag, date, array, table };
  Kind kind = Kind::table;
  int line = 1;
  std::string text;
  std::int64_t integer = 0;
  bool hex = false;  ///< the integer is written as 0x…
  double number = 0;
  bool flag = false;
  std::vector<TomlValue> items;     ///< of an array
  std::vector<TomlMember> members;  ///< of a table, in the order of the file

  /// nullptr when the table has no such key.
  [[nodiscard]] const TomlValue* find(std::string_view key) const;
};

struct TomlMember {
  std::string key;
  TomlValue value;
};

/// in   text  of a file; `name` is what errors call it
/// err  `name:line` and what TOML forbids there; larger than kMaxTomlBytes
/// src  TOML 1.0.0
[[nodiscard]] Result<TomlValue> parse_toml(std::string_view text, const std::string& name);

}  // namespace sumplog
