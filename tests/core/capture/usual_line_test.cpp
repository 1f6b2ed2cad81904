#include "core/capture/usual_line.h"

#include <gtest/gtest.h>

#include <string>

#include "core/capture/candump_text.h"
#include "core/vehicle/random.h"

// The same once more, as a compiler without SSE2 sees it.
#undef __SSE2__
#define read_usual_line read_usual_line_plain
#include "core/capture/usual_line.cpp"
#undef read_usual_line

namespace sumplog {

namespace {

constexpr char kUsual[] = "(1700000000.123456) can0 7E9#0462D10549000000";

/// `line` with what may stand behind it in a file; what looks like more digits must not count.
std::size_t read(const std::string& line, CanFrame& frame, const std::string& behind = "0462D10549000000") {
  std::string text = line + '\n';
  while (text.size() < line.size() + 1 + kUsualLineRoom) text += behind;
  UsualLineBefore nothing;
  const std::size_t bytes = read_usual_line(text, nothing, frame);
  CanFrame plain;
  UsualLineBefore nothing_plain;
  EXPECT_EQ(read_usual_line_plain(text, nothing_plain, plain), bytes) << line;
  EXPECT_TRUE(bytes == 0 || plain == frame) << line;
  // Behind lines that are nearly the same, and behind itself: the same.
  for (const std::string& one : {std::string(kUsual), line}) {
    UsualLineBefore before;
    CanFrame again;
    (void)read_usual_line(one + '\n' + std::string(kUsualLineRoom, ' '), before, again);
    EXPECT_EQ(read_usual_line(text, before, again), bytes) << line;
    EXPECT_TRUE(bytes == 0 || again == frame) << line;
  }
  return bytes;
}

/// What read_usual_line takes, parse_candump_line takes as well, and both read the same.
void expect_the_same(const std::string& text) {
  CanFrame usual;
  const std::size_t bytes = read(text, usual);
  if (bytes == 0) return;
  const std::string line = text.substr(0, text.find('\n'));
  const auto plain = parse_candump_line(line);
  ASSERT_TRUE(plain) << line << ": " << plain.error();
  EXPECT_EQ(usual, *plain) << line;
  EXPECT_EQ(bytes, line.size() + 1) << line;
}

TEST(UsualLine, ReadsWhatCandumpWrites) {
  for (const std::string line :
       {kUsual, "(0000000000.000000) vcan12 000#", "(9999999999.999999) c 7FF#00",
        "(1234567890.098765) can0 1FFFFFFF#FFEE", "(1700000000.000001) slcan0 18DAF118#abcdefAB"}) {
    CanFrame frame;
    ASSERT_NE(read(line, frame), 0) << line;
    expect_the_same(line);
  }
}

TEST(UsualLine, ABusOfAnyLengthIsNoneThatBeginsAlike) {
  UsualLineBefore before;
  UsualLineBefore before_plain;
  const std::string name = "fourteen_chars";
  for (std::size_t length = 1; length <= name.size(); ++length)
    for (const std::string& bus :
         {name.substr(0, length), name.substr(0, length), name.substr(0, length - 1) + 'x'}) {
      const std::string text = "(1700000000.123456) " + bus + " 7E9#00\n" + std::string(kUsualLineRoom, ' ');
      CanFrame frame;
      EXPECT_NE(read_usual_line(text, before, frame), 0) << bus;
      EXPECT_EQ(frame.bus.text(), bus);
      CanFrame plain;
      EXPECT_NE(read_usual_line_plain(text, before_plain, plain), 0) << bus;
      EXPECT_EQ(plain, frame) << bus;
    }
}

TEST(UsualLine, LeavesEveryOtherFormToThePlainWay) {
  for (const std::string line : {"",
                                 "(",
                                 "# comment that is longer than the shortest line",
                                 "(1700000000.12345) can0 7E9#0462D105490000",
                                 "(1700000000.1234567) can0 7E9#0462D105490000",
                                 "(170000000.123456) can0 7E9#0462D10549000000",
                                 "(-700000000.123456) can0 7E9#0462D10549000000",
                                 "(1700000000.123456)  can0 7E9#04",
                                 "(1700000000.123456) can0  7E9#04",
                                 "(1700000000.123456) can0 7E9#R",
                                 "(1700000000.123456) can0 7E9##004",
                                 "(1700000000.123456) can0 7E9#04 R",
                                 "(1700000000.123456) can0 7E9#04.62",
                                 "(1700000000.123456) can0 7E9#046",
                                 "(1700000000.123456) can0 7E9#0462D105490000001122",
                                 "(1700000000.123456) can0 800#04",
                                 "(1700000000.123456) can0 20000004#0000000000000000",
                                 "(1700000000.123456) can0 07E9#04",
                                 "(1700000000.123456) fifteen_letters 7E9#04",
                                 "(17000O0000.123456) can0 7E9#04",
                                 "(1700000000.12345G) can0 7E9#04"}) {
    CanFrame frame;
    EXPECT_EQ(read(line, frame), 0) << line;
  }
}

TEST(UsualLine, NothingBeforeIsNoSecond) {
  CanFrame frame;
  EXPECT_EQ(read(std::string(12, '\0') + std::string(kUsual).substr(12), frame), 0);
}

TEST(UsualLine, IsReadWithEnoughBehindItAlone) {
  const std::string line = std::string(kUsual) + '\n';
  CanFrame frame;
  UsualLineBefore before;
  EXPECT_EQ(read_usual_line(line, before, frame), 0);
  EXPECT_EQ(read_usual_line(line + std::string(kUsualLineRoom - line.size() - 1, ' '), before, frame), 0);
  EXPECT_EQ(read_usual_line(line + std::string(kUsualLineRoom - line.size(), ' '), before, frame),
            line.size());
}

TEST(UsualLine, EndsWithItsNewline) {
  for (const char* const behind : {"\n", "\r", " ", "(", "x", "\xFF"}) {
    CanFrame frame;
    EXPECT_EQ(read(std::string(kUsual).substr(0, 44), frame, behind), 0) << "half a byte";
    EXPECT_EQ(read(kUsual, frame, behind), std::string(kUsual).size() + 1);
    EXPECT_EQ(read(std::string(kUsual) + behind, frame),
              *behind == '\n' ? std::string(kUsual).size() + 1 : 0);
  }
}

// The plain way, parse_candump_line, is held to can-utils by its own tests; this one is held to it.
TEST(UsualLine, EveryByteInEveryPlaceIsReadAsThePlainWayReadsIt) {
  const std::string standard = kUsual;
  const std::string extended = "(1700000000.123456) can0 18DAF118#0462D10549000000";
  for (const std::string& line : {standard, extended})
    for (std::size_t place = 0; place < line.size(); ++place)
      for (int byte = 0; byte < 256; ++byte) {
        std::string changed = line;
        changed[place] = static_cast<char>(byte);
        expect_the_same(changed);
        CanFrame frame;
        const auto plain = parse_candump_line(changed);
        // Where a digit is another digit, the quick way must not hand the line on: it would be right, and slow.
        const char was = line[place];
        const bool stays_usual = was >= '0' && was <= '9' && byte >= '0' && byte <= '9';
        if (!stays_usual || !plain) continue;
        EXPECT_TRUE(read(changed, frame) != 0 || plain->kind != FrameKind::data) << changed;
      }
}

TEST(UsualLine, LinesThatWereCutJoinedAndShuffledAreReadAsThePlainWayReadsThem) {
  Random random(20260105);
  const std::string alphabet = "0123456789ABCDEFabcdef(). #RT\t_-xG";
  for (int round = 0; round < 200000; ++round) {
    std::string line = kUsual;
    const auto changes = random.below(4);
    for (std::uint64_t i = 0; i < changes; ++i) {
      const std::size_t place = random.below(line.size());
      switch (random.below(3)) {
        case 0: line[place] = alphabet[random.below(alphabet.size())]; break;
        case 1: line.erase(place, 1 + random.below(3)); break;
        default: line.insert(place, 1, alphabet[random.below(alphabet.size())]); break;
      }
      if (line.empty()) line = kUsual;
    }
    expect_the_same(line);
  }
}

TEST(UsualLine, WhatCandumpLineWritesIsRead) {
  Random random(7);
  for (int round = 0; round < 20000; ++round) {
    CanFrame frame;
    frame.at = at_micros(static_cast<std::int64_t>(random.below(9'999'999'999'999'999)));
    frame.bus = BusName("can0");
    frame.id = random.below(2) == 0 ? standard_id(static_cast<std::uint32_t>(random.below(0x800)))
                                    : extended_id(static_cast<std::uint32_t>(random.below(0x20000000)));
    frame.length = static_cast<std::uint8_t>(random.below(9));
    for (std::size_t i = 0; i < frame.length; ++i)
      frame.bytes[i] = static_cast<std::uint8_t>(random.below(256));
    CanFrame back;
    ASSERT_NE(read(candump_line(frame), back), 0) << candump_line(frame);
    EXPECT_EQ(back, frame) << candump_line(frame);
  }
}

}  // namespace
}  // namespace sumplog
