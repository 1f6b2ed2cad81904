#include "core/codes/code_comparison.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace sumplog {
namespace {

using ::testing::ElementsAre;
using ::testing::IsEmpty;

/// One unit, 7E8, that told no code.
ScanResult scan_of(const UnitCodes& unit) {
  ScanResult result;
  result.complete = true;
  result.units[{BusName("can0"), standard_id(0x7E8), std::nullopt}] = unit;
  return result;
}
UnitCodes told() {
  UnitCodes unit;
  unit.told = unit.answered = true;
  return unit;
}

TEST(CodeComparison, IsCompleteWhereBothScansAre) {
  ScanResult before = scan_of(told());
  ScanResult after = scan_of(told());
  EXPECT_TRUE(compare(before, after).complete);
  after.complete = false;
  EXPECT_FALSE(compare(before, after).complete);
  std::swap(before, after);
  EXPECT_FALSE(compare(before, after).complete);
}

TEST(CodeComparison, AUnitThatIsGoneIsSilentNow) {
  const ComparedEvent compared = compare(scan_of(told()), ScanResult{});
  ASSERT_EQ(compared.lines.size(), 1U);
  EXPECT_EQ(compared.lines[0].change, CodeChange::silent_now);
}

TEST(CodeComparison, AUnitThatIsNewWasSilentBefore) {
  const ComparedEvent compared = compare(ScanResult{}, scan_of(told()));
  ASSERT_EQ(compared.lines.size(), 1U);
  EXPECT_EQ(compared.lines[0].change, CodeChange::silent_before);
}

TEST(CodeComparison, WhatOneScanAloneSaysIsNoSignOfAClearedMemory) {
  UnitCodes before = told();
  before.since_cleared["distance_since_codes_cleared"] = 812;
  before.monitors = MonitorStatus{false, 0, {{"catalyst", true}}};
  EXPECT_THAT(compare(scan_of(before), scan_of(told())).cleared, IsEmpty());
  EXPECT_THAT(compare(scan_of(told()), scan_of(before)).cleared, IsEmpty());
}

TEST(CodeComparison, OnlyAMonitorThatWasCompleteCanSpeakOfAClearedMemory) {
  UnitCodes before = told();
  before.monitors =
      MonitorStatus{false, 0, {{"catalyst", false}, {"misfire", true}, {"oxygen sensor", true}}};
  UnitCodes after = told();
  after.monitors =
      MonitorStatus{false, 0, {{"catalyst", false}, {"misfire", true}, {"oxygen sensor", false}}};
  EXPECT_THAT(compare(scan_of(before), scan_of(after)).cleared,
              ElementsAre("7E8: monitors complete before and not after: oxygen sensor"));
}

}  // namespace
}  // namespace sumplog
