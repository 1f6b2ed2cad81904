#include "core/diagnostics/unit_watch.h"

#include <gtest/gtest.h>

#include <chrono>

namespace sumplog {
namespace {

using namespace std::chrono_literals;

class UnitWatchTest : public ::testing::Test {
 protected:
  void exchange(CanId unit, ExchangeResult result, BusName bus = BusName("can0")) {
    Exchange one;
    one.ended_at = now_;
    one.unit = Endpoint{bus, unit, std::nullopt};
    one.result = result;
    watch_.on_exchange(one, events_);
  }
  void answers(CanId unit, BusName bus = BusName("can0")) { exchange(unit, ExchangeResult::answered, bus); }
  /// Long and often enough to be said.
  void falls_silent(CanId unit) {
    now_ += 6s;
    for (int i = 0; i < 3; ++i) exchange(unit, ExchangeResult::silent);
  }
  /// "7E8 silent"; of the whole bus only what is said.
  std::vector<std::string> said() const {
    std::vector<std::string> texts;
    for (const Event& event : events_) {
      const auto& vehicle = std::get<VehicleEvent>(event);
      texts.push_back(vehicle.ecu + (vehicle.ecu.empty() ? "" : " ") + vehicle.state);
    }
    return texts;
  }

  UnitWatch watch_;
  TimePoint now_ = at_micros(1700000000000000);
  std::vector<Event> events_;
};

using Said = std::vector<std::string>;

TEST_F(UnitWatchTest, WhenTheLastOneOfABusIsSilentNobodyAnswers) {
  answers(standard_id(0x7E8));
  answers(standard_id(0x7E9));
  falls_silent(standard_id(0x7E8));
  EXPECT_EQ(said(), Said{"7E8 silent"});
  falls_silent(standard_id(0x7E9));
  EXPECT_EQ(said(), (Said{"7E8 silent", "7E9 silent", "no unit answers"}));
}

TEST_F(UnitWatchTest, SilentIsWhoMissesThreeQuestionsAndFiveSeconds) {
  const CanId unit = standard_id(0x7E8);
  answers(unit);
  now_ += 6s;
  for (int i = 0; i < 2; ++i) exchange(unit, ExchangeResult::silent);
  EXPECT_EQ(said(), Said{}) << "two questions";
  answers(unit);
  now_ += 4s;
  for (int i = 0; i < 5; ++i) exchange(unit, ExchangeResult::silent);
  EXPECT_EQ(said(), Said{}) << "four seconds";
  now_ += 1s;
  exchange(unit, ExchangeResult::silent);
  EXPECT_EQ(said(), (Said{"7E8 silent", "no unit answers"}));
}

TEST_F(UnitWatchTest, AUnitOnAnotherBusIsNoReasonToThinkThatThisOneStillAnswers) {
  answers(standard_id(0x7E8));
  answers(standard_id(0x7E8), BusName("can1"));
  falls_silent(standard_id(0x7E8));
  EXPECT_EQ(said(), (Said{"7E8 silent", "no unit answers"}));
}

TEST_F(UnitWatchTest, OfMoreUnitsThanTheTransportKnowsTheRestIsNotWatched) {
  for (std::uint32_t unit = 0; unit < 512; ++unit) answers(extended_id(0x10000 + unit));
  answers(extended_id(0x20000));
  answers(extended_id(0x10000));  // a known one still is
  falls_silent(extended_id(0x20000));
  EXPECT_EQ(said(), Said{});
  falls_silent(extended_id(0x10000));
  EXPECT_EQ(said(), Said{"00010000 silent"});
}

}  // namespace
}  // namespace sumplog
