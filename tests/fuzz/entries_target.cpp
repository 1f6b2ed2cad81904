#include <array>
#include <nlohmann/json.hpp>

#include "core/item/item.h"
#include "core/job/entry_fields.h"
#include "core/record/entry_table.h"
#include "fuzz/feed.h"

namespace sumplog::fuzz {
namespace {

void read_fields(std::string_view name, const std::string& fields) {
  const Entry entry{at_micros(1700000000000000), "id", std::string(name), fields};
  (void)said_time(entry);
  for (const std::string_view key : {"ago_s", "litres", "temp_c", "by", "stage", "flow"}) {
    (void)number_field(entry, key);
    (void)text_field(entry, key);
    (void)flag_field(entry, key);
    const auto seconds = seconds_field(entry, key);
    require(!seconds || seconds->count() >= 0, "a time span below zero");
  }
}

void check_fields(std::string_view name, const std::string& fields) {
  read_fields(name, fields);  // those of a foreign job file are as they are
  const auto checked = checked_fields(name, fields);
  if (!checked) {
    require(!checked.error().what.empty(), "an entry is refused without a word");
    return;
  }
  require(nlohmann::json::parse(*checked, nullptr, false).is_object(), "checked fields are no object");
  require(checked->find('\n') == std::string::npos, "checked fields take two lines");
  const auto again = checked_fields(name, *checked);
  require(again.has_value(), "checked fields do not pass a second time");
  require_same(*checked, *again, "checked fields change a second time");
  read_fields(name, *checked);
}

void check_words(std::string_view name, std::string_view text) {
  std::vector<std::string> words;
  while (!text.empty()) {
    const std::size_t end = std::min(text.find('\n'), text.size());
    words.emplace_back(text.substr(0, end));
    text.remove_prefix(std::min(end + 1, text.size()));
  }
  const auto fields = fields_from_words(name, words);
  if (fields) require(checked_fields(name, *fields).has_value(), "fields from words do not pass");
}

// Byte 0: which entry, the last ones none; byte 1: an object, or words in lines.
void take(Bytes bytes) {
  Feed feed(bytes);
  const auto& table = entry_table();
  const std::size_t which = feed.below(table.size() + 1);
  const std::string_view name = which < table.size() ? table[which].name : "no_such";
  const bool object = feed.byte() % 2 == 0;
  const std::string text(text_of(feed.rest()));
  object ? check_fields(name, text) : check_words(name, text);
}
const Registered kTarget("entries", take);

}  // namespace
}  // namespace sumplog::fuzz
