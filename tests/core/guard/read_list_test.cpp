#include "core/guard/read_list.h"

#include <gtest/gtest.h>

namespace sumplog {
namespace {

TEST(NamedIdentifier, MayLieFrom600To7FFBesideThoseOfTheStandard) {
  for (const std::uint32_t id : {0x600U, 0x6F1U, 0x7DEU, 0x7F0U, 0x7FFU})
    EXPECT_TRUE(may_be_named(standard_id(id))) << id;
  for (const std::uint32_t id : {0U, 0x5FFU, 0x7DFU, 0x7E0U, 0x7EFU, 0x800U})
    EXPECT_FALSE(may_be_named(standard_id(id))) << id;
  EXPECT_FALSE(may_be_named(extended_id(0x6F1)));
}

}  // namespace
}  // namespace sumplog
