// What the terminal says of the temperature while a job runs.
#include "app/journal_printer.h"

#include <gmock/gmock.h>

#include <sstream>

namespace sumplog {
namespace {

using namespace std::chrono_literals;
using ::testing::HasSubstr;
using ::testing::Not;

class PrintedJob : public testing::Test {
 protected:
  void reading(double value_c, Quality quality) {
    ReadingEvent e;
    e.at = now_;
    e.signal = "fluid_temperature";
    e.value = value_c;
    e.ecu = quality == Quality::by_hand ? "by hand" : "7E9";
    e.quality = quality;
    printer_.print({e});
  }
  /// out  what was said of it
  std::string thermal(double temp_c, bool by_hand) {
    ThermalEvent e;
    e.at = now_;
    e.temp_c = temp_c;
    e.window = WindowState::inside;
    e.by_hand = by_hand;
    out_.str("");
    printer_.print({e});
    now_ += 1s;
    return out_.str();
  }

  std::ostringstream out_;
  JournalPrinter printer_{out_, false};
  TimePoint now_ = at_micros(1700000000000000);
};

TEST_F(PrintedJob, ADisbelievedNumberNeverStandsBesideInside) {
  reading(41, Quality::by_hand);
  reading(80, Quality::measured);
  EXPECT_THAT(thermal(41.3, true), HasSubstr("fluid 41 °C by hand  inside"));
}

TEST_F(PrintedJob, WhatAPersonReadsIsNotShownAsTheUnits) {
  reading(40, Quality::measured);
  reading(43, Quality::by_hand);
  const std::string said = thermal(40.2, false);
  EXPECT_THAT(said, HasSubstr("fluid 40 °C  inside"));
  EXPECT_THAT(said, Not(HasSubstr("by hand")));
}

}  // namespace
}  // namespace sumplog
