#include "core/diagnostics/asked_units.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace sumplog {
namespace {

using ::testing::Contains;
using ::testing::ElementsAre;
using ::testing::Not;

class AskedUnitsTest : public ::testing::Test {
 protected:
  void ask(std::uint32_t to, std::vector<std::uint8_t> question) {
    ask({BusName("can0"), standard_id(to), std::nullopt}, std::move(question));
  }
  void ask(const Endpoint& to, std::vector<std::uint8_t> question) {
    Exchange exchange;
    exchange.request = to;
    exchange.asked = std::move(question);
    units_.on_exchange(exchange);
  }
  AskedUnits units_{{}};
};

TEST_F(AskedUnitsTest, QuestionsAboutSingleCodesAreOneQuestion) {
  ask(0x7E0, {0x19, 0x04, 0x07, 0x11, 0x00, 0xFF});
  ask(0x7E0, {0x19, 0x04, 0x07, 0x12, 0x00, 0xFF});
  ask(0x7E1, {0x19, 0x06, 0x07});  // cut short, and still of that kind
  ask(0x7E2, {0x02, 0x0C, 0x00});
  EXPECT_THAT(units_.asked(), ElementsAre("1904 of 7E0", "1906 of 7E1", "02 of 7E2"));
}

TEST_F(AskedUnitsTest, NeighboursAreARangeAndThoseOfAllUnitsStandAlone) {
  for (const std::uint32_t to : {0x7DFU, 0x7E0U, 0x7E1U, 0x7E2U, 0x7E5U}) ask(to, {0x03});
  EXPECT_THAT(units_.asked(), ElementsAre("03 of all units (7DF), 7E0 to 7E2, 7E5"));
  EXPECT_THAT(units_.not_asked(), Not(Contains("all units with 11-bit identifiers (7DF)")));
  EXPECT_THAT(units_.not_asked(), Contains("all units with 29-bit identifiers (18DB33F1)"));
}

TEST_F(AskedUnitsTest, OnlyLikeIsJoinedToLike) {
  const BusName bus("can0");
  for (const CanId to : {standard_id(0x7DE), standard_id(0x7DF), standard_id(0x7E7), extended_id(0x7E8),
                         extended_id(0x18DA10F1), extended_id(0x18DA11F1), extended_id(0x18DA13F1)})
    ask({bus, to, std::nullopt}, {0x03});
  EXPECT_THAT(units_.asked(),
              ElementsAre("03 of 7DE, all units (7DF), 7E7, 000007E8, 18DA10F1 to 18DA11F1, 18DA13F1"));
}

TEST_F(AskedUnitsTest, UnitsBehindAnAddressByteStandAlone) {
  const BusName bus("can0");
  ask({bus, standard_id(0x6F0), std::nullopt}, {0x03});
  ask({bus, standard_id(0x6F1), 0x12}, {0x03});
  ask({bus, standard_id(0x6F2), std::nullopt}, {0x03});
  EXPECT_THAT(units_.asked(), ElementsAre("03 of 6F0, 6F1/12, 6F2"));
}

TEST(AskedUnits, OfARangeWhatWasNotAskedIsSaid) {
  Decoder decoder;
  decoder.id = "made-up";
  decoder.ranges = {{standard_id(0x700), standard_id(0x703), 8, 1}};
  AskedUnits units({decoder});
  EXPECT_THAT(units.not_asked(), Contains("700 to 703, range of decoder made-up"));
  const auto ask = [&](std::uint32_t to) {
    Exchange exchange;
    exchange.request = {BusName("can0"), standard_id(to), std::nullopt};
    exchange.asked = {0x03};
    units.on_exchange(exchange);
  };
  ask(0x701);
  EXPECT_THAT(units.not_asked(), Contains("700, 702 to 703, range of decoder made-up"));
  for (const std::uint32_t to : {0x700U, 0x702U, 0x703U}) ask(to);
  EXPECT_THAT(units.not_asked(), Not(Contains(::testing::HasSubstr("made-up"))));
}

}  // namespace
}  // namespace sumplog
