#include "app/journal_lines.h"

#include <gtest/gtest.h>

namespace sumplog {
namespace {

TEST(JournalLines, AreNumberedFromOne) {
  JournalLines lines;
  EXPECT_EQ(lines.last(), 0U);
  EXPECT_EQ(lines.events_after(0, 1000)->bytes, "");
  lines.add("{\"a\":1}");
  lines.add("{\"b\":2}");
  const auto block = lines.events_after(0, 1000);
  EXPECT_EQ(block->bytes, "id: 1\ndata: {\"a\":1}\n\nid: 2\ndata: {\"b\":2}\n\n");
  EXPECT_EQ(block->last, 2U);
  EXPECT_EQ(lines.events_after(1, 1000)->bytes, "id: 2\ndata: {\"b\":2}\n\n");
  EXPECT_EQ(lines.events_after(2, 1000)->bytes, "");
}

TEST(JournalLines, ABlockEndsWithAWholeLine) {
  JournalLines lines;
  for (int i = 0; i < 10; ++i) lines.add(std::string(100, 'x'));
  const auto block = lines.events_after(0, 150);
  EXPECT_EQ(block->last, 2U);
  EXPECT_TRUE(block->bytes.ends_with("x\n\n"));
}

TEST(JournalLines, TheOldestLeaveMemoryAndAreToldApartFromNothingNew) {
  JournalLines lines(1000);
  for (int i = 0; i < 100; ++i) lines.add(std::string(100, 'x'));
  EXPECT_EQ(lines.last(), 100U);
  EXPECT_FALSE(lines.events_after(89, 1000));
  EXPECT_TRUE(lines.events_after(90, 1000));
  EXPECT_EQ(lines.resume_after(5), 90U);
  EXPECT_EQ(lines.resume_after(95), 95U);
  EXPECT_EQ(lines.resume_after(7000), 100U) << "a line that never was";
}

}  // namespace
}  // namespace sumplog
