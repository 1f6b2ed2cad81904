#include "core/capture/line_buffer.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <random>
#include <vector>

namespace sumplog {
namespace {

struct Line {
  std::string text;
  std::uint64_t number = 0;
  std::uint64_t bytes = 0;
  bool whole = true;
  bool overlong = false;
  friend bool operator==(const Line&, const Line&) = default;
};

void PrintTo(const Line& line, std::ostream* out) {
  *out << line.number << (line.whole ? " whole" : " fragment") << (line.overlong ? " overlong" : "") << ' '
       << line.bytes << " '" << line.text.substr(0, 60) << '\'';
}

void drain(LineBuffer& buffer, std::vector<Line>& lines) {
  while (const auto line = buffer.next())
    lines.push_back({std::string(line->text), line->number, line->bytes, line->whole, line->overlong});
}

std::vector<Line> lines_of(const std::vector<std::string>& pieces, std::size_t limit = 10) {
  LineBuffer buffer(limit);
  std::vector<Line> lines;
  for (const std::string& piece : pieces) {
    buffer.on_bytes(piece);
    drain(buffer, lines);
  }
  buffer.on_end();
  drain(buffer, lines);
  return lines;
}

Line whole_line(std::string text, std::uint64_t number) {
  const std::uint64_t bytes = text.size();
  return {std::move(text), number, bytes, true, false};
}

TEST(LineBuffer, GivesEachLineWithItsNumber) {
  EXPECT_EQ(lines_of({"a\nbc\n"}), (std::vector{whole_line("a", 1), whole_line("bc", 2)}));
}

TEST(LineBuffer, AnEmptyInputHasNoLine) {
  EXPECT_EQ(lines_of({}), std::vector<Line>{});
  EXPECT_EQ(lines_of({""}), std::vector<Line>{});
}

TEST(LineBuffer, EmptyLinesCount) {
  EXPECT_EQ(lines_of({"\n\na\n"}), (std::vector{whole_line("", 1), whole_line("", 2), whole_line("a", 3)}));
}

TEST(LineBuffer, TheLastLineWithoutItsNewlineIsNotWhole) {
  EXPECT_EQ(lines_of({"a\nbc"}), (std::vector{whole_line("a", 1), Line{"bc", 2, 2, false, false}}));
}

TEST(LineBuffer, HoldsALineBackUntilItsNewlineOrTheEndComes) {
  LineBuffer buffer(10);
  std::vector<Line> lines;
  buffer.on_bytes("ab");
  drain(buffer, lines);
  EXPECT_TRUE(lines.empty());
  buffer.on_bytes("c\n");
  drain(buffer, lines);
  EXPECT_EQ(lines, std::vector{whole_line("abc", 1)});
}

TEST(LineBuffer, CarriageReturnsAndZeroBytesAreBytesLikeOthers) {
  EXPECT_EQ(lines_of({std::string("a\r\nb\0c\n", 7)}),
            (std::vector{whole_line("a\r", 1), whole_line(std::string("b\0c", 3), 2)}));
}

TEST(LineBuffer, ALineOfTheLimitIsKeptAndOneByteMoreIsDroppedButCounted) {
  EXPECT_EQ(lines_of({"0123456789\n01234567890\nz\n"}),
            (std::vector{whole_line("0123456789", 1), Line{"", 2, 11, true, true}, whole_line("z", 3)}));
}

TEST(LineBuffer, AnOverlongFragmentIsCountedToo) {
  EXPECT_EQ(lines_of({std::string(25, 'x')}), (std::vector{Line{"", 1, 25, false, true}}));
}

TEST(LineBuffer, TheLineBehindAnOverlongOneIsWhole) {
  EXPECT_EQ(lines_of({std::string(30, 'x'), std::string(30, 'y'), "\nab\n"}),
            (std::vector{Line{"", 1, 60, true, true}, whole_line("ab", 2)}));
}

TEST(LineBuffer, BytesThatComeBeforeTheLinesWereTakenLoseNothingBehindAnOverlongOne) {
  LineBuffer buffer(10);
  std::vector<Line> lines;
  buffer.on_bytes(std::string(30, 'x') + "\na");
  buffer.on_bytes("b\n");
  drain(buffer, lines);
  EXPECT_EQ(lines, (std::vector{Line{"", 1, 30, true, true}, whole_line("ab", 2)}));
}

TEST(LineBuffer, AnyCutOfTheBytesGivesTheSameLines) {
  std::mt19937 random(2);
  for (int round = 0; round < 3000; ++round) {
    std::string input;
    const int length = std::uniform_int_distribution<int>(0, 60)(random);
    for (int i = 0; i < length; ++i)
      input += "ab\nc"[std::uniform_int_distribution<std::size_t>(0, 3)(random)];
    std::vector<std::string> pieces;
    for (std::size_t at = 0; at < input.size();) {
      const std::size_t n = std::uniform_int_distribution<std::size_t>(0, 8)(random);
      pieces.push_back(input.substr(at, n));
      at += std::min(n, input.size() - at);
    }
    for (const std::size_t limit : {1U, 3U, 10U, 100U})
      ASSERT_EQ(lines_of(pieces, limit), lines_of({input}, limit)) << input << " limit " << limit;
  }
}

TEST(LineBuffer, NoByteIsLost) {
  std::mt19937 random(4);
  for (int round = 0; round < 1000; ++round) {
    std::string input;
    const int length = std::uniform_int_distribution<int>(0, 80)(random);
    for (int i = 0; i < length; ++i)
      input += "abcdefgh\n"[std::uniform_int_distribution<std::size_t>(0, 8)(random)];
    std::uint64_t bytes = 0;
    for (const Line& line : lines_of({input}, 5)) bytes += line.bytes + (line.whole ? 1 : 0);
    ASSERT_EQ(bytes, input.size()) << input;
  }
}

}  // namespace
}  // namespace sumplog
