// What units of SAE J1939 tell about their codes.
#include "core/codes/scan_watch_fixture.h"

namespace sumplog::testing {
namespace {

using ::testing::Contains;
using ::testing::ElementsAre;
using ::testing::IsEmpty;

TEST_F(ScanWatchTest, ActiveCodesOfJ1939AreSaidWhenTheyChangeAndOnceInAScan) {
  const auto dm1 = [&](std::string_view data) { group(0x18FECA03, 0xFECA, data); };
  // Lamp amber; SPN 177 FMI 3, five times: layout as in canboat and docs.rs/j1939.
  dm1("04 FF B1 00 03 05 FF FF");
  dm1("04 FF B1 00 03 05 FF FF");
  ASSERT_EQ(all<CodesEvent>().size(), 1U);
  const CodesEvent first = all<CodesEvent>()[0];
  EXPECT_EQ(first.service, "DM1");
  EXPECT_EQ(first.codes->front().code, "SPN 177 FMI 3");
  EXPECT_EQ(first.codes->front().raw, "B1000305");
  EXPECT_THAT(first.codes->front().status, ElementsAre("active"));
  EXPECT_THAT(first.lamps, ElementsAre("amber warning"));
  mark(true);
  both_tell();
  dm1("04 FF B1 00 03 05 FF FF");
  EXPECT_EQ(all<CodesEvent>().back().scan, "before");
  EXPECT_EQ(all<CodesEvent>().back().service, "DM1");
  mark(false);
  EXPECT_TRUE(whole().complete) << ::testing::PrintToString(whole().why);
  EXPECT_THAT(whole().answered, Contains("18FECA03"));
  dm1("00 FF 00 00 00 00 FF FF");
  EXPECT_THAT(*all<CodesEvent>().back().codes, IsEmpty());
}

TEST_F(ScanWatchTest, ActiveCodesThatAreToldAgainAreReadWithoutALine) {
  const Endpoint unit{bus, extended_id(0x18FECA03), std::nullopt};
  group(0x18FECA03, 0xFECA, "04 FF B1 00 03 05 FF FF");
  EXPECT_EQ(told_again, std::nullopt) << "it has a line";
  group(0x18FECA03, 0xFECA, "04 FF B1 00 03 05 FF FF");
  EXPECT_EQ(told_again, unit);
  EXPECT_EQ(events.size(), 1U);
  for (int i = 0; i < 2; ++i) group(0x18FECB03, 0xFECB, "04 FF B1 00 03 05 FF FF");
  EXPECT_EQ(told_again, std::nullopt) << "these are not active";
  for (int i = 0; i < 2; ++i) group(0x18FECA03, 0xFECA, "04 FF B1");
  EXPECT_EQ(told_again, std::nullopt) << "these cannot be read";
}

TEST_F(ScanWatchTest, PreviouslyActiveCodesOfJ1939AreSaidAsSuchAndAreNoAnswerAboutActiveOnes) {
  mark(true);
  both_tell();
  group(0x18FECB03, 0xFECB, "40 FF B1 00 03 85 FF FF");  // bit 8 of the last byte: the old form, SAE J1939-73
  const CodesEvent dm2 = all<CodesEvent>().back();
  EXPECT_EQ(dm2.service, "DM2");
  EXPECT_EQ(dm2.ecu, "18FECA03");
  EXPECT_THAT(dm2.codes->front().status,
              ElementsAre("previously active", "number in an old form, may be wrong"));
  mark(false);
  EXPECT_FALSE(whole().complete);
  EXPECT_THAT(whole().why, ElementsAre("18FECA03 did not tell its codes"));
}

TEST_F(ScanWatchTest, EveryLampThatIsOnIsNamed) {
  group(0x18FECA03, 0xFECA, "55 FF B1 00 03 05 FF FF");  // SAE J1939-73: two bits a lamp, 01 is on
  EXPECT_THAT(all<CodesEvent>().back().lamps,
              ElementsAre("malfunction", "red stop", "amber warning", "protect"));
}

TEST_F(ScanWatchTest, WhatCannotBeReadOfJ1939IsALoss) {
  group(0x18FECA03, 0xFECA, "04 FF B1");
  ASSERT_EQ(all<LossEvent>().size(), 1U);
  EXPECT_EQ(all<LossEvent>()[0].why, "DM1: wrong length");
  EXPECT_THAT(all<CodesEvent>(), IsEmpty());
  group(0x18FECA03, 0xFECA, "04 FF 00 00 03 05 FF FF");  // SPN 0 names nothing
  EXPECT_EQ(all<LossEvent>().back().why, "DM1: a code without a number");
  EXPECT_EQ(all<LossEvent>().back().frames, 1U);
  EXPECT_THAT(*all<CodesEvent>().back().codes, IsEmpty());
}

TEST_F(ScanWatchTest, OtherGroupsAndElevenBitsAreNoCodesOfJ1939) {
  group(0x18FECD03, 0xFECD, "04 FF B1 00 03 05 FF FF");
  group(0x123, 0xFECA, "04 FF B1 00 03 05 FF FF", false);
  EXPECT_THAT(events, IsEmpty());
}

TEST_F(ScanWatchTest, OfMoreUnitsThanTheTransportKnowsTheRestIsNotRemembered) {
  for (std::uint32_t bus_number = 0; bus_number < 3; ++bus_number) {
    bus = BusName("can" + std::to_string(bus_number));
    for (std::uint32_t unit = 0; unit < 200; ++unit)
      group(0x18FECA00 + unit, 0xFECA, "04 FF B1 00 03 05 FF FF");
  }
  EXPECT_EQ(all<CodesEvent>().size(), 512U);
  events.clear();
  bus = BusName("can0");
  group(0x18FECA03, 0xFECA, "04 FF B1 00 03 06 FF FF");  // a known one still tells
  EXPECT_EQ(all<CodesEvent>().size(), 1U);
}

}  // namespace
}  // namespace sumplog::testing
