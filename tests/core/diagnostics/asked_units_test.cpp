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
    Exchange exchange;
    exchange.request = {BusName("can0"), standard_id(to), std::nullopt};
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

}  // namespace
}  // namespace sumplog
