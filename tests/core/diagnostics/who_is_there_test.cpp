#include "core/diagnostics/who_is_there.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace sumplog {
namespace {

using ::testing::HasSubstr;

Exchange refused_by(std::uint32_t unit) {
  const BusName bus("can0");
  Exchange exchange;
  exchange.request = {bus, standard_id(unit - 8), std::nullopt};
  exchange.unit = Endpoint{bus, standard_id(unit), std::nullopt};
  exchange.asked = {0x22, 0xF1, 0x90};
  exchange.result = ExchangeResult::refused;
  exchange.negative_code = 0x31;
  return exchange;
}

TEST(WhoIsThere, AUnitThatOnlyRefusesIsThereByItsName) {
  WhoIsThere who({});
  EXPECT_FALSE(who.anybody());
  Output out;
  out.exchanges = {refused_by(0x7E9)};
  who.on_output(out);
  EXPECT_TRUE(who.anybody());
  EXPECT_THAT(who.json(), HasSubstr(R"("ecu":"7E9")"));
}

}  // namespace
}  // namespace sumplog
