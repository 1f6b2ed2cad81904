#include "core/journal/capture_run.h"

namespace sumplog {
namespace {

// One golden for each layer of each capture, so that a change shows in the layer where it was made:
//   capture.messages   time, bus, who, payload: what the transport made of the frames
//   capture.readings   the journal's reading lines: what the decoders made of the messages
//   capture.events     the rest of the journal: window, level check, gaps, losses
// SUMPLOG_BLESS=1 writes them anew; the commit then says why.

std::string messages_text(const Output& out) {
  std::string text;
  for (const Message& m : out.messages)
    text += seconds_text(m.at) + ' ' + std::string(m.from.bus.text()) + ' ' +
            ecu_text(m.from.id, m.from.address) + ' ' + hex_text(m.payload.data(), m.payload.size()) + '\n';
  return text;
}

std::string journal_text(const Output& out, bool readings) {
  std::string text;
  for (const Event& event : out.events)
    if (std::holds_alternative<ReadingEvent>(event) == readings) text += journal_line(event) + '\n';
  return text;
}

std::size_t first_difference(const std::string& a, const std::string& b) {
  const auto at =
      static_cast<std::size_t>(std::mismatch(a.begin(), a.end(), b.begin(), b.end()).first - a.begin());
  return static_cast<std::size_t>(std::count(a.begin(), a.begin() + static_cast<std::ptrdiff_t>(at), '\n')) +
         1;
}

void expect_golden(const fs::path& path, const std::string& text) {
  if (const char* bless = std::getenv("SUMPLOG_BLESS"); bless != nullptr && std::string(bless) == "1")
    std::ofstream(path, std::ios::binary) << text;
  const std::string golden = file_text(path);
  EXPECT_FALSE(golden.empty()) << path << " is missing or empty";
  // Not EXPECT_EQ on the whole: its report would be megabytes.
  EXPECT_TRUE(golden == text) << path << ":" << first_difference(golden, text) << " is where they part";
}

class Golden : public testing::TestWithParam<fs::path> {};

TEST_P(Golden, EveryLayerGivesWhatItGaveBefore) {
  const auto items = items_of(file_text(GetParam() / "capture.log"));
  ASSERT_FALSE(items.empty());
  const Output out = run_items(opening_of(GetParam(), time_of(items.front())), items);
  expect_golden(GetParam() / "capture.messages", messages_text(out));
  expect_golden(GetParam() / "capture.readings", journal_text(out, true));
  expect_golden(GetParam() / "capture.events", journal_text(out, false));
}

INSTANTIATE_TEST_SUITE_P(All, Golden, testing::ValuesIn(capture_folders()), capture_name);

}  // namespace
}  // namespace sumplog
