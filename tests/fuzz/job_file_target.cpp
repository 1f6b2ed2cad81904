#include "core/item/item_text.h"
#include "fuzz/reading_check.h"

namespace sumplog::fuzz {
namespace {

/// Every item that was read can be written, and is then read as the same.
void check_text_of(const Item& item, const std::string& text) {
  if (std::holds_alternative<Unreadable>(item)) return;
  ItemLineParser parser;
  std::string back;
  for (const std::string& line : item_lines(item)) {
    require(line.size() <= kMaxItemLine || std::holds_alternative<CanFrame>(item), "a line is too long");
    const ParsedLine parsed = parser.on_line(line);
    require_same(parsed.problem, "", "what was written cannot be read");
    if (parsed.item) back += item_text(*parsed.item);
  }
  require_same(text, back, "written and read back an item differs");
}

void take(Bytes bytes) {
  const Reading reading = check_reader(CaptureForm::job_file, bytes);
  for (std::size_t i = 0; i < reading.items.size(); ++i) check_text_of(reading.items[i], reading.texts[i]);
}
const Registered kTarget("job_file", take);

}  // namespace
}  // namespace sumplog::fuzz
