#include "core/decoder/toml_value.h"

#include <toml++/toml.h>

#include <algorithm>

#include "core/decoder/toml_key_depth.h"

namespace sumplog {
namespace {

int line_of(const toml::source_region& source) {
  return static_cast<int>(source.begin.line);
}

TomlValue value_of(const toml::node& node);

TomlValue value_of_table(const toml::table& table) {
  struct Member {
    toml::source_position at;
    std::string key;
    TomlValue value;
  };
  std::vector<Member> members;
  members.reserve(table.size());
  for (const auto& [key, node] : table) {
    Member member{key.source().begin, std::string{key.str()}, value_of(node)};
    // An error must lead to the key. Tables made by a header carry the header's line already.
    if (member.at.line != 0) member.value.line = static_cast<int>(member.at.line);
    members.push_back(std::move(member));
  }
  // The library sorts by key; a person reads from the top.
  std::stable_sort(members.begin(), members.end(), [](const Member& a, const Member& b) {
    return std::pair{a.at.line, a.at.column} < std::pair{b.at.line, b.at.column};
  });
  TomlValue out;
  out.kind = TomlValue::Kind::table;
  out.members.reserve(members.size());
  for (Member& member : members) out.members.push_back({std::move(member.key), std::move(member.value)});
  return out;
}

TomlValue value_of(const toml::node& node) {
  TomlValue out;
  switch (node.type()) {
    case toml::node_type::table: out = value_of_table(*node.as_table()); break;
    case toml::node_type::array:
      out.kind = TomlValue::Kind::array;
      out.items.reserve(node.as_array()->size());
      for (const toml::node& item : *node.as_array()) out.items.push_back(value_of(item));
      break;
    case toml::node_type::string:
      out.kind = TomlValue::Kind::text;
      out.text = node.as_string()->get();
      break;
    case toml::node_type::integer:
      out.kind = TomlValue::Kind::integer;
      out.integer = node.as_integer()->get();
      out.hex =
          (node.as_integer()->flags() & toml::value_flags::format_as_hexadecimal) != toml::value_flags::none;
      break;
    case toml::node_type::floating_point:
      out.kind = TomlValue::Kind::number;
      out.number = node.as_floating_point()->get();
      break;
    case toml::node_type::boolean:
      out.kind = TomlValue::Kind::flag;
      out.flag = node.as_boolean()->get();
      break;
    case toml::node_type::none:
    case toml::node_type::date:
    case toml::node_type::time:
    case toml::node_type::date_time: out.kind = TomlValue::Kind::date; break;
  }
  out.line = line_of(node.source());
  return out;
}

/// The library's words on one line, without control characters.
std::string one_line(std::string_view text) {
  std::string out{text};
  std::replace_if(
      out.begin(), out.end(), [](char c) { return static_cast<unsigned char>(c) < ' '; }, ' ');
  return out;
}

}  // namespace

const TomlValue* TomlValue::find(std::string_view key) const {
  const auto found =
      std::find_if(members.begin(), members.end(), [&](const auto& m) { return m.key == key; });
  return found == members.end() ? nullptr : &found->value;
}

Result<TomlValue> parse_toml(std::string_view text, const std::string& name) {
  if (text.size() > kMaxTomlBytes) {
    return fault(
        "the file has " + std::to_string(text.size()) + " bytes, more than " + std::to_string(kMaxTomlBytes),
        name, "is it the right file?");
  }
  if (const std::optional<int> line = line_of_deep_key(text)) {
    return fault("a key has more than " + std::to_string(kMaxKeyDots) + " dots",
                 name + ":" + std::to_string(*line));
  }
  try {
    return value_of_table(toml::parse(text, name));
  } catch (const toml::parse_error& error) {
    return fault("not TOML: " + one_line(error.description()),
                 name + ":" + std::to_string(line_of(error.source())));
  }
}

}  // namespace sumplog
