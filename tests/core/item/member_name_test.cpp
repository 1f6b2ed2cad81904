#include "core/item/member_name.h"

#include <gtest/gtest.h>

#include <string>

namespace sumplog {
namespace {

TEST(MemberName, IsAPathBelowTheFolderWhereItIsUnpacked) {
  for (const char* const name : {"job.log", "photos/1.jpg", "a/b/c", "..a", "a..", "Ölstand.jpg"})
    EXPECT_TRUE(is_safe_member_name(name)) << name;
  for (const char* const name :
       {"", "/", "/etc", "a/", "a//b", ".", "..", "../a", "a/../b", "a/.", "a\\b", "a\nb", "a\x7F"})
    EXPECT_FALSE(is_safe_member_name(name)) << name;
}

TEST(MemberName, HasAtMostAHundredBytes) {
  EXPECT_TRUE(is_safe_member_name(std::string(100, 'a')));  // POSIX ustar, `name`
  EXPECT_FALSE(is_safe_member_name(std::string(101, 'a')));
}

}  // namespace
}  // namespace sumplog
