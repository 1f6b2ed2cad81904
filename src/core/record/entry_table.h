#pragma once
#include <cstdint>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "core/item/result.h"

namespace sumplog {

// Which entries there are, and what each may carry: docs/entries.md as a table.

enum class FieldKind : std::uint8_t {
  text,
  number,  ///< from `low` to `high`
  flag,    ///< true or false
  word,    ///< one of `words`
  texts,   ///< a list of texts
};

struct FieldRule {
  std::string_view name;
  FieldKind kind = FieldKind::text;
  std::vector<std::string_view> words;
  double low = 0;
  double high = 0;
  bool needed = false;
};

struct EntryRule {
  std::string_view name;
  std::vector<FieldRule> fields;
  std::vector<std::string_view> one_of;  ///< at least one of these fields is needed
};

/// In the order of docs/entries.md.
[[nodiscard]] const std::vector<EntryRule>& entry_table();
/// `ago_s` and `by`.
[[nodiscard]] const std::vector<FieldRule>& fields_of_every_entry();

/// Longest text of one field, in bytes: a page of it.
inline constexpr std::size_t kLongestFieldText = 4000;

/// Checks what an entry carries.
/// in   fields  a JSON object
/// out  the same object on one line, keys in their order
/// err  no such entry (with those that exist) · not a JSON object · a field that this entry has not (with those that it has), of
///      the wrong kind, outside its limits or missing; the place names entry and field
[[nodiscard]] Result<std::string> checked_fields(std::string_view name, std::string_view fields);

/// The same from "key=value" words, each read as the kind that the table gives its field; several values of a list are several
/// words.
/// err  as above · a word without '='
[[nodiscard]] Result<std::string> fields_from_words(std::string_view name,
                                                    std::span<const std::string> words);

}  // namespace sumplog
