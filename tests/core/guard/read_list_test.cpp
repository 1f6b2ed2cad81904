#include "core/guard/read_list.h"

#include <gtest/gtest.h>

#include <vector>

namespace sumplog {
namespace {

using Bytes = std::vector<std::uint8_t>;
constexpr std::size_t kRoom = 7;

TEST(NamedIdentifier, MayLieFrom600To7FFBesideThoseOfTheStandard) {
  for (const std::uint32_t id : {0x600U, 0x6F1U, 0x7DEU, 0x7F0U, 0x7FFU})
    EXPECT_TRUE(may_be_named(standard_id(id))) << id;
  for (const std::uint32_t id : {0U, 0x5FFU, 0x7DFU, 0x7E0U, 0x7EFU, 0x800U})
    EXPECT_FALSE(may_be_named(standard_id(id))) << id;
  EXPECT_FALSE(may_be_named(extended_id(0x6F1)));
}

TEST(SendingIdentifierOf, NeverTheTesterAsTarget) {
  // ISO 15765-4: F1 is the tester itself.
  EXPECT_EQ(sending_identifier(extended_id(0x18DA18F1)), SendingIdentifier::physical);
  EXPECT_EQ(sending_identifier(extended_id(0x18DAF1F1)), SendingIdentifier::none);
  EXPECT_EQ(sending_identifier(extended_id(0x18CE18F1)), SendingIdentifier::mixed);
  EXPECT_EQ(sending_identifier(extended_id(0x18CEF1F1)), SendingIdentifier::none);
}

TEST(SendingIdentifierOf, NeverOurselvesOrTheNullAddressAsTargetOfAGroup) {
  // SAE J1939: F9 is off-board service tool 1; SAE J1939-81: FE is the null address.
  EXPECT_EQ(sending_identifier(extended_id(0x18EA03F9)), SendingIdentifier::group_request);
  EXPECT_EQ(sending_identifier(extended_id(0x18EAFFF9)), SendingIdentifier::group_request);
  EXPECT_EQ(sending_identifier(extended_id(0x18EC03F9)), SendingIdentifier::group_transport);
  for (const std::uint32_t id : {0x18EAF9F9U, 0x18EAFEF9U, 0x18ECF9F9U, 0x18ECFEF9U, 0x18ECFFF9U})
    EXPECT_EQ(sending_identifier(extended_id(id)), SendingIdentifier::none) << std::hex << id;
}

TEST(SendingIdentifierOf, EndsWhereTheResponsesOfElevenBitsBegin) {
  EXPECT_EQ(sending_identifier(standard_id(0x7E7)), SendingIdentifier::physical);  // ISO 15765-4
  EXPECT_EQ(sending_identifier(standard_id(0x7E8)), SendingIdentifier::none);
}

TEST(RefuseRequest, KnowsTheLengthOfEachReadingSubFunctionOfService19) {
  EXPECT_EQ(refuse_request(Bytes{0x19}, kRoom), GuardRefusal::length_wrong);
  EXPECT_EQ(refuse_request(Bytes{0x19, 0x02}, kRoom), GuardRefusal::length_wrong);
  EXPECT_EQ(refuse_request(Bytes{0x19, 0x02, 0xFF}, kRoom), std::nullopt);
  EXPECT_EQ(refuse_request(Bytes{0x19, 0x02, 0xFF, 0x00}, kRoom), GuardRefusal::length_wrong);
  EXPECT_EQ(refuse_request(Bytes{0x19, 0x04, 0, 0, 0, 0xFF}, 6), std::nullopt);
  EXPECT_EQ(refuse_request(Bytes{0x19, 0x04, 0, 0, 0, 0xFF}, 5), GuardRefusal::length_wrong);
}

TEST(RefuseRequest, KnowsTheLengthsOfEachOtherService) {
  EXPECT_EQ(refuse_request(Bytes{0x22, 0xF1}, kRoom), GuardRefusal::length_wrong);
  EXPECT_EQ(refuse_request(Bytes{0x22, 0xF1, 0x90, 0xF1}, kRoom), GuardRefusal::length_wrong);
  EXPECT_EQ(refuse_request(Bytes{0x01, 1, 2, 3, 4, 5, 6}, kRoom), std::nullopt);
  EXPECT_EQ(refuse_request(Bytes{0x01, 1, 2, 3, 4, 5, 6}, kRoom - 1), GuardRefusal::length_wrong);
  // SAE J1979, service 02: each parameter has a frame number.
  EXPECT_EQ(refuse_request(Bytes{0x02, 0x05, 0x00}, kRoom), std::nullopt);
  EXPECT_EQ(refuse_request(Bytes{0x02, 0x05, 0x00, 0x0C}, kRoom), GuardRefusal::length_wrong);
}

}  // namespace
}  // namespace sumplog
