#include "core/diagnostics/who_is_there.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace sumplog {
namespace {

using ::testing::Contains;
using ::testing::HasSubstr;
using ::testing::Not;

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

Output told(const VehicleEvent& event) {
  Output out;
  out.events = {event};
  return out;
}

TEST(WhoIsThere, TellsEverythingThatAUnitSaidAboutItself) {
  WhoIsThere who({});
  VehicleEvent all{};
  all.ecu = "7E8";
  all.vin = "0TESTCAR0FAKE0001";
  all.name = "ECM-Unit";
  all.calibration_ids = {"CAL-A", "CAL-B"};
  all.cvn = {"1791BC82"};
  all.pids = {"0C", "0D"};
  who.on_output(told(all));
  VehicleEvent nothing{};
  nothing.ecu = "7E8";
  who.on_output(told(nothing));  // what is not said again stays
  VehicleEvent nobody{};
  nobody.state = "no unit answers";
  who.on_output(told(nobody));
  const auto text = who.text();
  for (const char* const line : {"answered:", "  7E8  ECM-Unit", "    VIN                  0TESTCAR0FAKE0001",
                                 "    calibrations         CAL-A CAL-B", "    verification numbers 1791BC82",
                                 "    parameters           0C 0D"})
    EXPECT_THAT(text, Contains(line));
  EXPECT_THAT(text, Not(Contains("heard of SAE J1939:")));
  EXPECT_THAT(who.json(), HasSubstr(R"("answered":[{"ecu":"7E8","vin":"0TESTCAR0FAKE0001",)"
                                    R"("calibration_ids":["CAL-A","CAL-B"],"cvn":["1791BC82"],)"
                                    R"("name":"ECM-Unit","pids":["0C","0D"]}])"));
}

TEST(WhoIsThere, WhereNobodyWasHeardItSaysSo) {
  WhoIsThere who({});
  EXPECT_THAT(who.text(), Contains("answered: nobody"));
  EXPECT_THAT(who.json(), HasSubstr(R"("answered":[],"j1939":[])"));
}

Decoder heavy() {
  Signal fluid;
  fluid.name = "fluid_temperature";
  fluid.source = SpnSource{65272, 177, 3};
  fluid.length = 1;
  fluid.bit_length = 8;
  fluid.valid_high = 250;
  Signal unnumbered = fluid;
  unnumbered.name = "learned";
  unnumbered.source = SpnSource{65272, 0, std::nullopt};
  Decoder decoder;
  decoder.signals = {fluid, unnumbered};
  return decoder;
}

Output group(std::uint8_t source, std::uint32_t pgn, std::vector<std::uint8_t> payload) {
  Message message;
  message.from = {BusName("can0"), extended_id(0x18000000U | pgn << 8 | source), std::nullopt};
  message.group = pgn;
  message.payload = std::move(payload);
  Output out;
  out.messages = {message};
  return out;
}

TEST(WhoIsThere, OfJ1939ItTellsNamesAndTheParametersThatHaveAValue) {
  WhoIsThere who({heavy()});
  who.on_output(group(3, 65272, {70}));
  who.on_output(group(4, 65272, {70}));     // SPN 177 is expected of address 3 alone
  who.on_output(group(5, 65262, {70}));     // another group
  who.on_output(group(6, 65272, {251}));    // no value
  who.on_output(group(0xF9, 65272, {70}));  // SAE J1939: off-board service tool 1, we
  who.on_output(group(0xFE, 65272, {70}));  // SAE J1939-81: null address
  Output no_group = group(7, 65272, {70});
  no_group.messages[0].group.reset();
  who.on_output(no_group);
  Output odd = group(8, 65272, {70});
  odd.messages[0].from.id = standard_id(0x123);
  who.on_output(odd);
  VehicleEvent claim{};
  claim.ecu = "03";
  claim.claim = "000081001FFABCDE";
  who.on_output(told(claim));
  const auto text = who.text();
  for (const char* const line :
       {"heard of SAE J1939:", "  address 03", "    parameters (SPN)     learned, 177 fluid_temperature",
        "  address 04", "    name                 not claimed", "    parameters (SPN)     learned"})
    EXPECT_THAT(text, Contains(line));
  // SAE J1939-81 as in canboat, PGN 60928: identity 21 bits, manufacturer 11, instances 8, function 8
  EXPECT_THAT(text, Contains(HasSubstr("000081001FFABCDE: function 129, manufacturer 255")));
  EXPECT_THAT(who.json(),
              HasSubstr(R"("j1939":[{"address":"03","claim":"000081001FFABCDE",)"
                        R"("spns":["learned","177 fluid_temperature"]},)"
                        R"({"address":"04","spns":["learned"]},{"address":"05"},{"address":"06"}])"));
}

CanFrame heard(std::uint32_t id, const std::vector<std::uint8_t>& bytes) {
  return data_frame(at_micros(0), BusName("can0"), extended_id(id), bytes);
}

TEST(WhoIsThere, ARequestForAGroupIsSilentUntilTheGroupComes) {
  const std::string to_three = "18EA03F9 PGN 00FEDA";
  const std::string to_all = "18EAFFF9 PGN 00FEDA";
  WhoIsThere who({});
  who.on_frame(heard(0x18EA03F9, {0xDA, 0xFE, 0x00}));
  who.on_frame(heard(0x18EAFFF9, {0xDA, 0xFE, 0x00}));
  who.on_frame(heard(0x18EA04F9, {0xDA, 0xFE}));        // too short to ask for anything
  who.on_frame(heard(0x18ECFFF9, {0xDA, 0xFE, 0x00}));  // no request
  who.on_frame(data_frame(at_micros(0), BusName("can0"), standard_id(0x7E8), {}));
  const std::string both = R"("silent":[")" + to_three + R"(",")" + to_all + R"("])";
  EXPECT_THAT(who.json(), HasSubstr(both));
  CanFrame remote = heard(0x18FEDA03, {});
  remote.kind = FrameKind::remote;
  who.on_frame(remote);
  who.on_frame(heard(0x18FEDB03, {1, 2, 3}));  // another group
  who.on_frame(
      heard(0x18ECF903, {0x13, 0x14, 0x00, 0x03, 0xFF, 0xDA, 0xFE, 0x00}));     // an acknowledge is no answer
  who.on_frame(heard(0x18ECF903, {0x10, 0x14, 0x00, 0x03, 0xFF, 0xDA, 0xFE}));  // cut
  EXPECT_THAT(who.json(), HasSubstr(both));
  who.on_frame(
      heard(0x18ECFF04, {0x20, 0x14, 0x00, 0x03, 0xFF, 0xDA, 0xFE, 0x00}));  // SAE J1939-21: announced to all
  EXPECT_THAT(who.json(), HasSubstr(R"("silent":[")" + to_three + R"("])"));
  who.on_frame(
      heard(0x18ECF903, {0x10, 0x14, 0x00, 0x03, 0xFF, 0xDA, 0xFE, 0x00}));  // SAE J1939-21: request to send
  EXPECT_THAT(who.json(), HasSubstr(R"("silent":[])"));
}

TEST(WhoIsThere, ASilentQuestionAndOneThatNobodyAnsweredAreSilent) {
  WhoIsThere who({});
  Exchange silent = refused_by(0x7E9);
  silent.result = ExchangeResult::silent;
  Exchange nobody = refused_by(0x7E8);
  nobody.unit.reset();
  Output out;
  out.exchanges = {silent, nobody};
  who.on_output(out);
  EXPECT_FALSE(who.anybody());
  EXPECT_THAT(who.json(), HasSubstr(R"("silent":["7E1 22F190","7E0 22F190"])"));
}

TEST(WhoIsThere, AUnitThatSaysNothingOfItselfHasItsIdentifierAlone) {
  WhoIsThere who({});
  Output out;
  out.exchanges = {refused_by(0x7E8), refused_by(0x7E9)};
  who.on_output(out);
  const auto text = who.text();
  ASSERT_GE(text.size(), 3U);
  EXPECT_EQ(text[1], "  7E8");
  EXPECT_EQ(text[2], "  7E9");
  EXPECT_THAT(who.json(), HasSubstr(R"("answered":[{"ecu":"7E8"},{"ecu":"7E9"}])"));
}

}  // namespace
}  // namespace sumplog
