#include "core/redact/identifying_bytes.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace sumplog {
namespace {

using ::testing::ElementsAre;
using ::testing::IsEmpty;

std::vector<std::uint16_t> asked(std::vector<std::uint8_t> request) {
  return asked_identifiers(request);
}

TEST(IdentifyingBytes, OnlyAReadAsksForIdentifiers) {
  EXPECT_THAT(asked({0x22, 0xF1, 0x90, 0xF1, 0x8C}), ElementsAre(0xF190, 0xF18C));
  EXPECT_THAT(asked({0x22, 0xF1, 0x90, 0xF1}), ElementsAre(0xF190)) << "half of one is none";
  EXPECT_THAT(asked({0x2E, 0xF1, 0x90}), IsEmpty()) << "a write";
  EXPECT_THAT(asked({}), IsEmpty());
}

}  // namespace
}  // namespace sumplog
