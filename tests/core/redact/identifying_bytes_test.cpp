#include "core/redact/identifying_bytes.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string_view>

#include "core/isotp/frames.h"

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

using isotp_words::bytes;

/// "3+17 vin": where it begins, how long it is, what it is.
std::vector<std::string> texts(const std::vector<IdentifyingRange>& ranges) {
  std::vector<std::string> out;
  for (const IdentifyingRange& one : ranges)
    out.push_back(std::to_string(one.at) + "+" + std::to_string(one.length) +
                  (one.kind == IdentifyingKind::vin      ? " vin"
                   : one.kind == IdentifyingKind::serial ? " serial"
                                                         : " number"));
  return out;
}
std::vector<std::string> in(std::string_view payload, const std::vector<std::uint16_t>& identifiers = {}) {
  return texts(identifying_ranges(bytes(payload), identifiers));
}
std::vector<std::string> in_group(std::uint32_t group, std::string_view text) {
  return texts(identifying_ranges_of_group(group, std::vector<std::uint8_t>(text.begin(), text.end())));
}

TEST(IdentifyingBytes, AreVinAndSerialNumberInEveryService) {
  EXPECT_THAT(in("49 02 01 31 32"), ElementsAre("2+3 vin"));  // SAE J1979, service 09
  EXPECT_THAT(in("49 0D 01 31 32"), ElementsAre("2+3 serial"));
  EXPECT_THAT(in("5A 90 31 32"), ElementsAre("2+2 vin"));     // ISO 14230-3
  EXPECT_THAT(in("2E F1 90 31 32"), ElementsAre("3+2 vin"));  // ISO 14229-1
  EXPECT_THAT(in("2E F1 8C 31"), ElementsAre("3+1 serial"));
  EXPECT_THAT(in("62 F1 90 31 32"), ElementsAre("3+2 vin"));
  for (const char* const other : {"", "49", "49 02", "49 04 31", "5A 91 31", "2E F1", "2E 12 34 31", "62 F1",
                                  "62 12 34 31", "62 F1 90", "41 0C 1A F8"})
    EXPECT_THAT(in(other), IsEmpty()) << other;
}

TEST(IdentifyingBytes, OfSeveralIdentifiersEachReachesToTheNextThatIsThere) {
  EXPECT_THAT(in("62 F1 90 31 32 D1 05 49 F1 8C 41", {0xF190, 0xD105, 0xF18C}),
              ElementsAre("3+2 vin", "10+1 serial"));
  EXPECT_THAT(in("62 F1 90 31 32 F1 8C 41", {0xF190, 0xD105, 0xF18C}), ElementsAre("3+2 vin", "7+1 serial"))
      << "one was left out";
  EXPECT_THAT(in("62 F1 90 31 32", {0xF190, 0xD105, 0xF18C}), ElementsAre("3+2 vin")) << "all others were";
  EXPECT_THAT(in("62 F1 90 F1 8C 41", {0xF190, 0xF18C}), ElementsAre("5+1 serial"))
      << "the first has no data";
  EXPECT_THAT(in("62 12 34 F1 90 31", {0xF190}), IsEmpty()) << "nobody asked for that";
}

TEST(IdentifyingBytes, OfJ1939AreVinSerialFieldsAndTheIdentityOfAName) {
  // SAE J1939-71: fields that an asterisk ends; -81: 21 bits of a NAME
  EXPECT_THAT(in_group(65260, "ABC*"), ElementsAre("0+3 vin"));
  EXPECT_THAT(in_group(65260, "ABC"), ElementsAre("0+3 vin"));
  EXPECT_THAT(in_group(65259, "MAKE*MODEL*SERIAL*UNIT*"), ElementsAre("11+6 serial"));
  EXPECT_THAT(in_group(65259, "MAKE*MODEL"), IsEmpty());
  EXPECT_THAT(in_group(65259, "MAKE*MODEL**UNIT*"), IsEmpty());
  EXPECT_THAT(in_group(64965, "PART*SERIAL*PLACE*"), ElementsAre("5+6 serial"));
  EXPECT_THAT(in_group(0xEE00, "12345678"), ElementsAre("0+3 number"));
  EXPECT_THAT(in_group(0xEE00, "12"), ElementsAre("0+2 number"));
  EXPECT_THAT(in_group(0xEE00, ""), IsEmpty());
  EXPECT_THAT(in_group(65262, "ABC*"), IsEmpty());
}

}  // namespace
}  // namespace sumplog
