#include "core/capture/line_buffer.h"

#include <gtest/gtest.h>

namespace sumplog {
namespace {

TEST(LineBuffer, CutsWholeLinesAndNumbersThem) {
  LineBuffer lines(100);
  lines.on_bytes("one\n\nthree\nfo");
  auto line = lines.next();
  ASSERT_TRUE(line);
  EXPECT_EQ(line->text, "one");
  EXPECT_EQ(line->number, 1U);
  line = lines.next();
  EXPECT_EQ(line->text, "");
  EXPECT_EQ(line->number, 2U);
  line = lines.next();
  EXPECT_EQ(line->text, "three");
  EXPECT_TRUE(line->whole);
  EXPECT_FALSE(lines.next());
  lines.on_bytes("ur\n");
  EXPECT_EQ(lines.next()->text, "four");
  lines.on_end();
  EXPECT_FALSE(lines.next());
}

TEST(LineBuffer, TheLastLineWithoutNewlineIsNotWhole) {
  LineBuffer lines(100);
  lines.on_bytes("one\ntw");
  EXPECT_EQ(lines.next()->text, "one");
  EXPECT_FALSE(lines.next());
  lines.on_end();
  const auto line = lines.next();
  ASSERT_TRUE(line);
  EXPECT_FALSE(line->whole);
  EXPECT_EQ(line->text, "tw");
  EXPECT_EQ(line->bytes, 2U);
  EXPECT_FALSE(lines.next());
}

TEST(LineBuffer, ALineOfExactlyTheLimitIsKeptAndOneByteMoreIsNot) {
  LineBuffer lines(4);
  lines.on_bytes("1234\n12345\n1\n");
  EXPECT_FALSE(lines.next()->overlong);
  const auto line = lines.next();
  EXPECT_TRUE(line->overlong);
  EXPECT_EQ(line->bytes, 5U);
  EXPECT_TRUE(line->text.empty());
  EXPECT_EQ(lines.next()->text, "1");
}

TEST(LineBuffer, AnOverlongLineCountsItsBytesWhateverTheCut) {
  for (const std::size_t piece : {1U, 2U, 3U, 7U, 100U}) {
    LineBuffer lines(4);
    const std::string_view input = "ab\n0123456789\ncd\n0123456789";
    std::vector<std::pair<std::string, std::uint64_t>> seen;
    const auto drain = [&] {
      while (const auto line = lines.next()) seen.emplace_back(line->text, line->bytes);
    };
    for (std::size_t at = 0; at < input.size(); at += piece) {
      lines.on_bytes(input.substr(at, piece));
      drain();
    }
    lines.on_end();
    drain();
    EXPECT_EQ(seen, (std::vector<std::pair<std::string, std::uint64_t>>{
                        {"ab", 2U}, {"", 10U}, {"cd", 2U}, {"", 10U}}))
        << piece;
  }
}

}  // namespace
}  // namespace sumplog
