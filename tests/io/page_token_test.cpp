#include "io/page_token.h"

#include <gtest/gtest.h>
#include <sys/stat.h>

#include "io/temporary_folder.h"

namespace sumplog {
namespace {

TEST(PageToken, IsKeptFromOneStartToTheNext) {
  const test::TemporaryFolder folder;
  const auto first = page_token(folder / "data");
  ASSERT_TRUE(first) << first.error().text();
  EXPECT_EQ(first->size(), 32U);
  EXPECT_EQ(page_token(folder / "data").value_or(""), *first);
  EXPECT_NE(page_token(folder / "other").value_or(""), *first);
}

TEST(PageToken, IsReadableForItsUserAlone) {
  const test::TemporaryFolder folder;
  ASSERT_TRUE(page_token(folder.text()));
  struct stat status {};
  ASSERT_EQ(::stat((folder / "page-token").c_str(), &status), 0);
  EXPECT_EQ(status.st_mode & 0777, 0600U);
}

TEST(PageToken, OneThatOthersCanReadIsNotUsed) {
  const test::TemporaryFolder folder;
  ASSERT_TRUE(page_token(folder.text()));
  ASSERT_EQ(::chmod((folder / "page-token").c_str(), 0644), 0);
  const auto again = page_token(folder.text());
  ASSERT_FALSE(again);
  EXPECT_NE(again.error().text().find("others can read"), std::string::npos);
}

TEST(PageToken, AFileWithoutOneIsSaidAndLeftAlone) {
  const test::TemporaryFolder folder;
  test::put_bytes(folder / "page-token", "hello\n");
  ASSERT_EQ(::chmod((folder / "page-token").c_str(), 0600), 0);
  EXPECT_FALSE(page_token(folder.text()));
  EXPECT_EQ(test::bytes_of(folder / "page-token"), "hello\n");
}

}  // namespace
}  // namespace sumplog
