#include "core/decoder/mistakes.h"

#include <gtest/gtest.h>

#include "core/codes/code_file.h"
#include "core/decoder/decoder.h"
#include "core/decoder/service_file.h"

namespace sumplog {
namespace {

using testing::Mistake;

std::string name_of(const ::testing::TestParamInfo<Mistake>& mistake) {
  return mistake.param.name;
}

class DecoderMistake : public ::testing::TestWithParam<Mistake> {};

TEST_P(DecoderMistake, IsRefusedWithItsLine) {
  const std::string text = testing::spoilt(testing::test_file("sound_signals.toml"), GetParam());
  const auto decoder = parse_decoder(text, "my-9/signals.toml");
  ASSERT_FALSE(decoder);
  EXPECT_EQ(decoder.error().text(), "my-9/signals.toml:" + GetParam().error);
}
INSTANTIATE_TEST_SUITE_P(Listed, DecoderMistake, ::testing::ValuesIn(testing::mistakes("decoder.mistakes")),
                         name_of);

class ServiceMistake : public ::testing::TestWithParam<Mistake> {};

TEST_P(ServiceMistake, IsRefusedWithItsLine) {
  const std::string text = testing::spoilt(testing::test_file("sound_service.toml"), GetParam());
  const auto service = parse_service_file(text, "my-9/service.toml");
  ASSERT_FALSE(service);
  EXPECT_EQ(service.error().text(), "my-9/service.toml:" + GetParam().error);
}
INSTANTIATE_TEST_SUITE_P(Listed, ServiceMistake, ::testing::ValuesIn(testing::mistakes("service.mistakes")),
                         name_of);

class CodeMistake : public ::testing::TestWithParam<Mistake> {};

TEST_P(CodeMistake, IsRefusedWithItsLine) {
  const std::string text = testing::spoilt(testing::test_file("sound_codes.toml"), GetParam());
  const auto codes = parse_code_file(text, "my-9/codes.toml");
  ASSERT_FALSE(codes);
  EXPECT_EQ(codes.error().text(), "my-9/codes.toml:" + GetParam().error);
}
INSTANTIATE_TEST_SUITE_P(Listed, CodeMistake, ::testing::ValuesIn(testing::mistakes("codes.mistakes")),
                         name_of);

TEST(CodeText, WithoutAWordOnAnyCodeIsRefused) {
  const auto codes = parse_code_file("format = 1\nid = \"a\"\ntitle = \"b\"\n", "a.toml");
  ASSERT_FALSE(codes);
  EXPECT_EQ(codes.error().text(),
            "a.toml:1: the file says nothing; it has at least one [[code]] or [[class]]");
}

std::string error_of(const std::string& text) {
  const auto decoder = parse_decoder(text, "a.toml");
  return decoder ? "" : decoder.error().text();
}

TEST(DecoderText, ThatIsEmptyLacksItsFormat) {
  EXPECT_EQ(error_of(""), "a.toml:1: missing key 'format'; write 'format = 1' at the top");
}

TEST(DecoderText, WithoutSignalsIsRefused) {
  EXPECT_EQ(error_of("format = 1\nid = \"a\"\ntitle = \"b\"\n"),
            "a.toml:1: missing key 'signal'; a decoder has at least one [[signal]]");
}

TEST(DecoderText, OfAMegabyteIsRefusedUnread) {
  EXPECT_EQ(error_of(std::string(1024 * 1024, '#')),
            "a.toml: the file has 1048576 bytes, more than 262144; is it the right file?");
}

TEST(DecoderText, OfTheLargestSizeIsStillRead) {
  const std::string sound = testing::test_file("sound_signals.toml");
  EXPECT_EQ(error_of(sound + std::string(256 * 1024 - sound.size(), '#')), "");
}

TEST(DecoderText, ThatNestsDeeplyIsRefused) {
  EXPECT_EQ(error_of("a = " + std::string(100'000, '[')),
            "a.toml:1: not TOML: Error while parsing value: exceeded maximum nested value depth of 256 "
            "(TOML_MAX_NESTED_VALUES)");
}

TEST(DecoderText, WhoseKeysNestDeeplyIsRefused) {
  // The library makes a table for each dot: without our limit these texts overflow the stack.
  std::string dots;
  for (int i = 0; i < 100'000; ++i) dots += ".a";
  EXPECT_EQ(error_of("# a\na" + dots + " = 1\n"), "a.toml:2: a key has more than 8 dots");
  EXPECT_EQ(error_of("[a" + dots + "]\n"), "a.toml:1: a key has more than 8 dots");
  EXPECT_EQ(error_of("a = [ {\"a\"" + dots + " = 1} ]\n"), "a.toml:1: a key has more than 8 dots");
  EXPECT_EQ(error_of("note = \"\"\"\n\\\"\"\"\"\"\na" + dots + " = 1\n"),
            "a.toml:3: a key has more than 8 dots");
}

TEST(DecoderText, CountsTheLinesOfAStringThatGoesOnBehindABackslash) {
  EXPECT_EQ(error_of("note = \"\"\"\\\n  x\"\"\"\na.a.a.a.a.a.a.a.a.a = 1\n"),
            "a.toml:3: a key has more than 8 dots");
}

TEST(DecoderText, MayHaveDotsInItsStringsAndComments) {
  const std::string head = "format = 1\nid = \"a\"\ntitle = \"..........\"  # ..........\n";
  const std::string no_signal = "a.toml:1: missing key 'signal'; a decoder has at least one [[signal]]";
  EXPECT_EQ(error_of(head + "note = '..........'\n"), no_signal);
  EXPECT_EQ(error_of(head + "note = '..\\'\n"), no_signal);
  EXPECT_EQ(error_of(head + "note = \"\\\"..........\"\n"), no_signal);
  EXPECT_EQ(error_of(head + "note = \"\"\"\n.....\"\".....\n\"\"\"\"\"\n"), no_signal);
  EXPECT_EQ(error_of(head + "note = '''\n..........\\'''\n"), no_signal);
}

TEST(DecoderText, WithBytesThatAreNoTextIsRefused) {
  EXPECT_EQ(error_of("a = \"\xFF\xFE\"\n"), "a.toml:1: not TOML: Encountered invalid utf-8 sequence");
}

TEST(DecoderText, WithTwoMistakesTellsTheFirst) {
  std::string text =
      testing::changed(testing::test_file("sound_signals.toml"), "title =", "titel = 1\ntitle =");
  text = testing::changed(text, "scale = 1", "scale = 0");
  EXPECT_EQ(error_of(text), "a.toml:3: unknown key 'titel'; did you mean 'title'?");
}

}  // namespace
}  // namespace sumplog
