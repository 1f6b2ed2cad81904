#include "app/table_text.h"

#include <gtest/gtest.h>

namespace sumplog {
namespace {

TEST(TableText, ACellIsCutAndPaddedByCharacters) {
  EXPECT_EQ(cell("ab", 4), "ab  ");
  EXPECT_EQ(cell("M\xC3\x9C-X 47", 4), "M\xC3\x9C-X");
}

TEST(TableText, ATerminalHasNothingToObey) {
  EXPECT_EQ(cell("\x1b[2JAB\n1", 10), " [2JAB 1  ");
  EXPECT_EQ(cell("A\xC2\x9B"
                 "2J",
                 6),
            "A 2J  ");
}

}  // namespace
}  // namespace sumplog
