#include "core/journal/entry_lines.h"

#include <gtest/gtest.h>

namespace sumplog {
namespace {

EntryEvent entry(const std::string& id) {
  return EntryEvent{at_micros(1'700'000'000'000'000), id, "note", "{}", std::nullopt};
}

TEST(EntryLines, AreTheEntriesInTheirOrderAndNothingElse) {
  EntryLines lines;
  EXPECT_EQ(lines.text(), R"({"entries":[]})");
  for (const char* id : {"a", "b"}) lines.on_event(entry(id), journal_line(Event(entry(id))));
  lines.on_event(CueEvent{{}, "lay_out", "lay everything out now"}, "not an entry");
  EXPECT_EQ(lines.text(), "{\"entries\":[" + journal_line(Event(entry("a"))) + "," +
                              journal_line(Event(entry("b"))) + "]}");
}

TEST(EntryLines, OfVeryManyTheNewestAreKept) {
  EntryLines lines;
  for (std::size_t i = 0; i <= EntryLines::kMost; ++i) lines.on_event(entry("x"), std::to_string(i));
  EXPECT_TRUE(lines.text().starts_with("{\"entries\":[1,2,"));
  EXPECT_TRUE(lines.text().ends_with("," + std::to_string(EntryLines::kMost) + "]}"));
}

}  // namespace
}  // namespace sumplog
