#include "core/job/code_condition.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace sumplog {
namespace {

using namespace std::chrono_literals;
using testing::ElementsAre;
using testing::IsEmpty;

constexpr TimePoint kRead{1700000000s};
const BusName kBus("can0");
constexpr Duration kWithin = 15min;  // common practice, no source

BusUnit unit(const char* ecu) {
  return {kBus, ecu};
}

CodesEvent codes(const char* ecu, const char* service,
                 std::vector<std::pair<const char*, const char*>> list) {
  CodesEvent event;
  event.at = kRead;
  event.bus = kBus;
  event.ecu = ecu;
  event.service = service;
  event.codes.emplace();
  for (const auto& [code, code_class] : list) event.codes->push_back({code, {}, {}, {}, code_class, {}});
  return event;
}

TEST(CodeCondition, CodesThatWereNotReadAreNotAbsent) {
  CodeCondition condition;
  EXPECT_EQ(condition.missing(unit("7E9"), kWithin, kRead),
            "fault codes of the unit that gives the temperature were not read");
  condition.on_codes(codes("7E8", "03", {}));
  EXPECT_NE(condition.missing(unit("7E9"), kWithin, kRead), "") << "another unit says nothing for this one";
  condition.on_codes(codes("7E9", "07", {}));
  EXPECT_NE(condition.missing(unit("7E9"), kWithin, kRead), "") << "pending codes are not the stored ones";
}

TEST(CodeCondition, ReadCodesCountForTheTimeThatTheServiceFileSays) {
  CodeCondition condition;
  condition.on_codes(codes("7E9", "19 02", {}));
  EXPECT_EQ(condition.missing(unit("7E9"), kWithin, kRead + kWithin), "");
  EXPECT_EQ(condition.missing(unit("7E9"), kWithin, kRead + kWithin + Duration{1}),
            "fault codes were read more than 15 minutes ago: read them again, with the plug in");
  EXPECT_EQ(condition.ends(unit("7E9"), kWithin), kRead + kWithin + Duration{1});
}

TEST(CodeCondition, ThePlugOutHoldsTheTime) {
  CodeCondition condition;
  condition.on_codes(codes("7E9", "03", {}));
  condition.on_plug_out(kRead + 14min);
  condition.on_plug_out(kRead + 20min);  // said twice
  EXPECT_EQ(condition.missing(unit("7E9"), kWithin, kRead + 1h), "");
  EXPECT_FALSE(condition.ends(unit("7E9"), kWithin));
  condition.on_plug_in();
  EXPECT_NE(condition.missing(unit("7E9"), kWithin, kRead + 1h), "");
}

TEST(CodeCondition, CodesThatAreToldAgainAndAgainAreReadAllTheTime) {
  CodeCondition condition;
  condition.on_codes(codes("18FECA03", "DM1", {}));
  for (auto gone = 1s; gone <= 20min; gone += 1s) condition.on_told_again(unit("18FECA03"), kRead + gone);
  const BusUnit source = unit("18FEF803");
  EXPECT_EQ(condition.missing(source, kWithin, kRead + 20min), "");
  EXPECT_EQ(condition.ends(source, kWithin), kRead + 35min + Duration{1});
  EXPECT_EQ(condition.read_at(source, kRead + 25min), kRead + 20min);
  EXPECT_EQ(condition.read_at(source, kRead + 19min), kRead + 19min) << "the plug is entered late";
  condition.on_told_again(unit("18FECA03"), kRead + 26min);
  EXPECT_EQ(condition.read_at(source, kRead + 25min), kRead + 26min)
      << "nobody knows whether it told them there";
}

TEST(CodeCondition, OnlyASensorCodeObjects) {
  CodeCondition condition;
  condition.on_codes(codes("7E8", "03", {{"P0741", "decide first"}, {"P9999", "unknown"}}));
  EXPECT_THAT(condition.objections(), IsEmpty());
  condition.on_codes(codes("7E9", "03", {{"P0711", "invalidates the level check"}}));
  condition.on_codes(codes("7E9", "19 02", {{"P0711-1F", "invalidates the level check"}}));
  EXPECT_THAT(condition.objections(),
              ElementsAre("fault code P0711, P0711-1F in 7E9: the fluid temperature may be "
                          "invented; use a second thermometer"));
}

TEST(CodeCondition, AUnitOfAnotherBusIsAnotherUnit) {
  CodeCondition condition;
  CodesEvent other = codes("7E9", "19 02", {});
  other.bus = BusName("can1");
  condition.on_codes(other);
  EXPECT_EQ(condition.read_at(unit("7E9"), kRead), std::nullopt);
  condition.on_codes(codes("7E9", "19 02", {{"P0711", "invalidates the level check"}}));
  condition.on_codes(other);
  EXPECT_EQ(condition.objections().size(), 1U) << "it takes nothing back";
}

TEST(CodeCondition, AUnitOfJ1939IsTheSameInEachOfItsGroups) {
  CodeCondition condition;
  condition.on_codes(codes("18FECA03", "DM1", {}));
  EXPECT_EQ(condition.missing(unit("18FEF803"), kWithin, kRead), "");
  EXPECT_NE(condition.missing(unit("18FEF800"), kWithin, kRead), "");
}

TEST(CodeCondition, ALaterAnswerReplacesAnEarlierOne) {
  CodeCondition condition;
  condition.on_codes(codes("7E9", "03", {{"P0711", "invalidates the level check"}}));
  condition.on_codes(codes("7E9", "03", {}));
  EXPECT_THAT(condition.objections(), IsEmpty());
}

TEST(CodeCondition, AMaskThatLeavesOutFaultsTakesNothingBack) {
  CodeCondition condition;
  const char* const invalid = "invalidates the level check";
  const char* const objection =
      "fault code P0711-1F in 7E9: the fluid temperature may be invented; use a second thermometer";
  condition.on_codes(codes("7E9", "19 02", {{"P0711-1F", invalid}}));
  condition.on_codes(codes("7E9", "19 02 04", {}));
  EXPECT_THAT(condition.objections(), ElementsAre(objection));
  condition.on_codes(codes("7E9", "19 02", {}));
  EXPECT_THAT(condition.objections(), IsEmpty());
  for (const char* const service : {"19 02 08", "19 0A"}) {  // what it tells holds until everything was told
    condition.on_codes(codes("7E9", service, {{"P0711-1F", invalid}}));
    condition.on_codes(codes("7E8", "19 02", {}));
    EXPECT_THAT(condition.objections(), ElementsAre(objection)) << service;
    condition.on_codes(codes("7E9", "19 02", {}));
    EXPECT_THAT(condition.objections(), IsEmpty()) << service;
  }
}

TEST(CodeCondition, AMaskThatLeavesOutFaultsReadsNoCodes) {
  CodeCondition condition;
  condition.on_codes(codes("7E9", "19 02 08", {}));
  condition.on_codes(codes("7E9", "19 0A", {}));
  EXPECT_EQ(condition.read_at(unit("7E9"), kRead), std::nullopt);
}

TEST(CodeCondition, ACodeThatTwoServicesTellObjectsOnce) {
  CodeCondition condition;
  const char* const invalid = "invalidates the level check";
  condition.on_codes(codes("7E9", "03", {{"P0711", invalid}}));
  condition.on_codes(codes("7E9", "07", {{"P0711", invalid}, {"P0712", invalid}}));
  EXPECT_THAT(
      condition.objections(),
      ElementsAre("fault code P0711, P0712 in 7E9: the fluid temperature may be invented; use a second "
                  "thermometer"));
}

TEST(CodeCondition, AUnitOfJ1939IsKnownByItsAddressWhateverItSends) {
  CodeCondition condition;
  condition.on_codes(codes("18FECA03", "DM1", {}));
  EXPECT_EQ(condition.read_at(unit("18FEF803"), kRead), kRead);
  EXPECT_EQ(condition.read_at(unit("18FEF804"), kRead), std::nullopt);
  condition.on_codes(codes("18DAF118", "03", {}));
  EXPECT_EQ(condition.read_at(unit("18DAF118"), kRead), kRead);
  EXPECT_EQ(condition.read_at(unit("18DAF218"), kRead), std::nullopt)
      << "of ISO 15765-4 the whole identifier counts";
}

}  // namespace
}  // namespace sumplog
