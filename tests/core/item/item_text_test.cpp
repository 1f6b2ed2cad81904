#include "core/item/item_text.h"

#include <gtest/gtest.h>

#include <random>

#include "core/item/items.h"

namespace sumplog {
namespace {

using testing::RandomItems;
using testing::read_lines;
using testing::whole;

constexpr TimePoint kAt = at_micros(1700000000123456);

std::string only_line(const Item& item) {
  const auto lines = item_lines(item);
  EXPECT_EQ(lines.size(), 1U);
  return lines.front();
}

void expect_round_trip(const Item& item) {
  const auto lines = item_lines(item);
  for (const std::string& line : lines) {
    EXPECT_LE(line.size(), kMaxItemLine);
    EXPECT_EQ(line.find_first_of(std::string_view("\n\r\0", 3)), std::string::npos);
    if (!std::holds_alternative<CanFrame>(item)) {
      EXPECT_TRUE(line.starts_with("# {"));
    }
  }
  const auto back = read_lines(lines);
  EXPECT_EQ(back.problems, std::vector<std::string>{});
  ASSERT_EQ(back.items.size(), 1U);
  EXPECT_EQ(whole(back.items.front()), whole(item));
}

// --- normal: the line of each kind is part of the file format and never changes ---

TEST(ItemText, EachKindHasItsLine) {
  EXPECT_EQ(only_line(Settings{
                kAt, "0011", "sumplog 0.1.0", "Europe/Berlin", {{"window", "35:45"}, {"step_c", "1"}}}),
            R"(# {"t":1700000000.123456,"item":"settings","job":"0011","program":"sumplog 0.1.0",)"
            R"("time_zone":"Europe/Berlin","values":{"window":"35:45","step_c":"1"}})");
  EXPECT_EQ(
      only_line(DecoderText{kAt, "demo-9/signals.toml", "format = 1\n"}),
      R"(# {"t":1700000000.123456,"item":"decoder_text","name":"demo-9/signals.toml","text":"format = 1\n"})");
  EXPECT_EQ(
      only_line(data_frame(kAt, BusName("can0"), standard_id(0x7E9), std::vector<std::uint8_t>{4, 0x62})),
      "(1700000000.123456) can0 7E9#0462");
  EXPECT_EQ(only_line(Entry{kAt, "e1", "plug_out", R"({"by":"A"})"}),
            R"(# {"t":1700000000.123456,"item":"entry","id":"e1","name":"plug_out","fields":{"by":"A"}})");
  EXPECT_EQ(only_line(LinkEvent{kAt, BusName("can0"), LinkState::bus_off}),
            R"(# {"t":1700000000.123456,"item":"link","bus":"can0","state":"bus_off"})");
  EXPECT_EQ(only_line(ReceiveDrops{kAt, BusName("can0"), 7}),
            R"(# {"t":1700000000.123456,"item":"drops","bus":"can0","frames":7})");
  EXPECT_EQ(only_line(ClockStep{kAt, Duration{-1500000}}),
            R"(# {"t":1700000000.123456,"item":"clock_step","step_us":-1500000})");
  EXPECT_EQ(only_line(ScanMark{kAt, true, "before"}),
            R"(# {"t":1700000000.123456,"item":"scan","scan":"before","begun":true})");
  EXPECT_EQ(only_line(OtherTester{kAt, BusName("can0"), standard_id(0x7DF)}),
            R"(# {"t":1700000000.123456,"item":"other_tester","bus":"can0","id":"7DF"})");
  EXPECT_EQ(only_line(OtherTester{kAt, BusName("can0"), extended_id(0x7DF)}),
            R"(# {"t":1700000000.123456,"item":"other_tester","bus":"can0","id":"000007DF"})");
  EXPECT_EQ(only_line(Torn{kAt, 17}), R"(# {"t":1700000000.123456,"item":"torn","bytes":17})");
  EXPECT_EQ(only_line(Advance{kAt}), R"(# {"t":1700000000.123456,"item":"advance"})");
  EXPECT_EQ(only_line(Resume{kAt}), R"(# {"t":1700000000.123456,"item":"resume"})");
  EXPECT_EQ(only_line(End{kAt}), R"(# {"t":1700000000.123456,"item":"end"})");
  EXPECT_EQ(only_line(GivenReading{kAt, "fluid_temperature", "40.5"}),
            R"(# {"t":1700000000.123456,"item":"reading","signal":"fluid_temperature","value":"40.5"})");
}

TEST(ItemText, EveryLinkStateRoundTrips) {
  for (const LinkState state :
       {LinkState::up, LinkState::down, LinkState::gone, LinkState::error_passive, LinkState::bus_off})
    expect_round_trip(LinkEvent{kAt, BusName("can0"), state});
}

TEST(ItemText, ItemsOfEveryKindRoundTrip) {
  RandomItems items(7);
  for (int kind = 0; kind < 14; ++kind)
    for (int round = 0; round < 100; ++round) expect_round_trip(items.of_kind(kind));
}

TEST(ItemText, ASealIsALineAndNotAnItem) {
  const Seal seal{kAt, 1234, std::string(64, 'a')};
  EXPECT_EQ(seal_line(seal), R"(# {"t":1700000000.123456,"item":"seal","bytes":1234,"sha256":")" +
                                 std::string(64, 'a') + "\"}");
  const auto back = parse_seal(seal_line(seal));
  ASSERT_TRUE(back);
  EXPECT_EQ(back->at, seal.at);
  EXPECT_EQ(back->bytes, seal.bytes);
  EXPECT_EQ(back->sha256, seal.sha256);
  const auto read = read_lines({seal_line(seal)});
  EXPECT_TRUE(read.items.empty());
  EXPECT_TRUE(read.problems.empty());
}

TEST(ItemText, TheFirstLineOfTheFileAndBlankLinesGiveNothing) {
  const auto read = read_lines({std::string(kJobFileMagic), "", "", only_line(Advance{kAt})});
  EXPECT_EQ(read.items.size(), 1U);
  EXPECT_TRUE(read.problems.empty());
}

// --- edges: times ---

TEST(ItemText, EveryMicrosecondUpToTheLatestTimeIsKept) {
  // 2^32 and 8.5e9 s: the ends of the ranges in which neighbouring doubles lie 2^-21 and 2^-20 s apart.
  for (const std::int64_t second :
       {0LL, -1LL, 1700000000LL, 4294967295LL, 4294967296LL, 8499999999LL, -8499999999LL})
    for (const std::int64_t us : {0, 1, 2, 499999, 500000, 999998, 999999})
      expect_round_trip(Advance{at_micros(second * 1000000 + us)});
}

TEST(ItemText, RandomTimesAreKeptToTheMicrosecond) {
  std::mt19937_64 random(3);
  std::uniform_int_distribution<std::int64_t> time(-8500000000000000, 8500000000000000);
  for (int round = 0; round < 20000; ++round) {
    const TimePoint at = at_micros(time(random));
    const auto back = read_lines({only_line(Advance{at})});
    ASSERT_EQ(back.items.size(), 1U);
    ASSERT_EQ(micros(time_of(back.items.front())), micros(at));
  }
}

// --- edges: parts ---

TEST(ItemText, ALineOfExactlyTheLimitStaysWholeAndOneByteMoreMakesParts) {
  const std::size_t frame_of_text = only_line(DecoderText{kAt, "n", ""}).size();
  const DecoderText longest{kAt, "n", std::string(kMaxItemLine - frame_of_text, 'x')};
  EXPECT_EQ(only_line(longest).size(), kMaxItemLine);
  expect_round_trip(longest);
  const DecoderText longer{kAt, "n", std::string(kMaxItemLine - frame_of_text + 1, 'x')};
  EXPECT_EQ(item_lines(longer).size(), 2U);
  expect_round_trip(longer);
}

TEST(ItemText, PartsAreNumberedFromOneAndEachIsALineOfItsOwn) {
  const auto lines = item_lines(DecoderText{kAt, "n", std::string(1000, 'x')});
  ASSERT_GT(lines.size(), 2U);
  for (std::size_t i = 0; i < lines.size(); ++i)
    EXPECT_TRUE(lines[i].starts_with("# {\"part\":" + std::to_string(i + 1) +
                                     ",\"of\":" + std::to_string(lines.size()) + ",\"text\":\""))
        << lines[i];
}

TEST(ItemText, CharactersOfSeveralBytesAreNeverCutByAPart) {
  // Each shift puts other characters at the borders of the parts.
  for (const std::string character : {"é", "€", "😀", "\"", "\\", "\n", "\x7F"}) {
    for (std::size_t shift = 0; shift < 12; ++shift) {
      std::string text(shift, 'x');
      while (text.size() < 2500) text += character;
      const DecoderText item{kAt, "n", text};
      for (const std::string& line : item_lines(item)) {
        const auto read = nlohmann::json::parse(line.substr(2), nullptr, false);
        ASSERT_FALSE(read.is_discarded()) << "a part is not valid JSON, or not valid UTF-8: " << line;
      }
      expect_round_trip(item);
    }
  }
}

TEST(ItemText, SettingsAndEntriesMayBeLongToo) {
  Settings settings{kAt, "job", "program", "", {}};
  for (int i = 0; i < 100; ++i)
    settings.values.emplace_back("key " + std::to_string(i), std::string(50, 'v'));
  expect_round_trip(settings);
  expect_round_trip(Entry{kAt, "id", "note", "{\"text\":\"" + std::string(5000, 'n') + "\"}"});
}

TEST(ItemText, TextThatIsNotUtf8ComesBackWithReplacementCharacters) {
  const auto back = read_lines(item_lines(DecoderText{kAt, "n", "a\xFF" + std::string(500, 'b')}));
  ASSERT_EQ(back.items.size(), 1U);
  EXPECT_EQ(std::get<DecoderText>(back.items.front()).text, "a\xEF\xBF\xBD" + std::string(500, 'b'));
}

TEST(ItemText, SettingsWithKeysThatNeedEscapingRoundTrip) {
  expect_round_trip(Settings{kAt, "j", "p", "", {{"a\"b", "1"}, {"c\nd", "2"}, {"", "3"}}});
}

TEST(ItemText, OnlyReadersMakeUnreadable) {
  EXPECT_DEBUG_DEATH((void)item_lines(Unreadable{}), "Unreadable");
}

}  // namespace
}  // namespace sumplog
