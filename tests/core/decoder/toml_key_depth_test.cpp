#include "core/decoder/toml_key_depth.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <string>

namespace sumplog {
namespace {

std::string dots(std::size_t count) {
  std::string key = "a";
  for (std::size_t i = 0; i < count; ++i) key += ".a";
  return key;
}
const std::string kDeep = dots(100);

TEST(DeepKey, IsToldByTheLineWhereItStands) {
  EXPECT_EQ(line_of_deep_key(kDeep + " = 1\n"), 1);
  EXPECT_EQ(line_of_deep_key("a = 1\n\n" + kDeep + " = 1\n"), 3);
  EXPECT_EQ(line_of_deep_key("[" + kDeep + "]\n"), 1);
  EXPECT_EQ(line_of_deep_key(dots(3) + " = 1\n"), std::nullopt);
  EXPECT_EQ(line_of_deep_key(""), std::nullopt);
}

TEST(DeepKey, IsNotWhatStandsInATextOrInARemark) {
  EXPECT_EQ(line_of_deep_key("a = \"" + kDeep + "\"\n"), std::nullopt);
  EXPECT_EQ(line_of_deep_key("a = '" + kDeep + "'\n"), std::nullopt);
  EXPECT_EQ(line_of_deep_key("# " + kDeep), std::nullopt);
  EXPECT_EQ(line_of_deep_key("a = \"\"\"\n" + kDeep + "\n\"\"\"\n"), std::nullopt);
  EXPECT_EQ(line_of_deep_key("a = '''\n" + kDeep + " '' \n'''\n"), std::nullopt);
}

TEST(DeepKey, IsFoundBehindEveryKindOfText) {
  for (const std::string text :
       {R"("")", R"("a")", R"("\"")", R"("\\")", R"("\n")", R"('\')", "''", "\"\"\"\na \"\" b\"\"\"",
        "\"\"\"a\"\"\"\"\"", "\"\"\"\\\"\"\"\"", "'''a''''"}) {
    const auto lines = 2 + static_cast<int>(std::count(text.begin(), text.end(), '\n'));
    EXPECT_EQ(line_of_deep_key("a = " + text + "\n" + kDeep + " = 1\n"), lines) << text;
  }
}

TEST(DeepKey, IsFoundBehindATextOnTheSameLine) {
  for (const std::string text :
       {R"("a")", "'a'", R"("")", "\"\"\"a\"\"\"", "\"\"\"a\"\"\"\"", "\"\"\"a\"\"\"\"\"", "'''a'''''"})
    EXPECT_EQ(line_of_deep_key("a = {b = " + text + ", " + kDeep + " = 1}\n"), 1) << text;
}

TEST(DeepKey, ATextThatIsNotEndedEndsWithItsLineOrWithTheFile) {
  EXPECT_EQ(line_of_deep_key("a = \"b\n" + kDeep + " = 1\n"), 2);
  EXPECT_EQ(line_of_deep_key("a = \"\"\"b\n" + kDeep + " = 1\n"), std::nullopt);
  EXPECT_EQ(line_of_deep_key("a = \"b\\"), std::nullopt);
  EXPECT_EQ(line_of_deep_key("a = \"\"\"\""), std::nullopt);
}

}  // namespace
}  // namespace sumplog
