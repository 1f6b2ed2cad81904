#include "core/diagnostics/interpreter_fixture.h"

namespace sumplog {
namespace {

using testing::Texts;

Signal signal(std::string name, Source source, int length = 1) {
  Signal s;
  s.name = std::move(name);
  s.unit = "degC";
  s.source = source;
  s.length = length;
  s.bit_length = 8 * length;
  s.offset = -40;
  s.valid_low = -40;
  s.valid_high = 214;
  s.no_value = {{0xFE, 0xFE, "error"}, {0xFF, 0xFF, "not available"}};
  s.rounding = Rounding::round;
  return s;
}

/// An invented family: fluid temperature and a pressure of the transmission, selector of any unit.
Decoder invented() {
  Decoder decoder;
  decoder.units.push_back(
      {"transmission", {standard_id(0x7E1), standard_id(0x7E9), AddressingMode::normal, {}, {}}, 1});
  decoder.units.push_back(
      {"behind", {standard_id(0x6F1), standard_id(0x612), AddressingMode::extended, 0x12, 0xF1}, 2});
  Signal fluid = signal("fluid_temperature", DidSource{0x22, 0xD105});
  fluid.unit_id = "transmission";
  Signal wide = signal("wide", DidSource{0x22, 0xD106}, 2);
  wide.unit_id = "transmission";
  wide.no_value.clear();
  wide.valid_high = 70000;
  Signal selector = signal("selector_position", DidSource{0x22, 0xD107});
  selector.offset = 0;
  selector.valid_low = 0;
  selector.labels = {{0, "P"}, {1, "R"}};
  Signal local = signal("local", DidSource{0x21, 0x01});
  local.unit_id = "transmission";
  Signal behind = signal("behind", DidSource{0x22, 0xD108});
  behind.unit_id = "behind";
  decoder.signals = {fluid,
                     wide,
                     selector,
                     local,
                     behind,
                     signal("heard", BroadcastSource{standard_id(0x321)}, 2),
                     signal("j_any", SpnSource{65272, 177, {}}, 8),
                     signal("j_three", SpnSource{65272, 178, 3}, 8)};
  decoder.signals[5].bit_length = 8;
  for (std::size_t i : {6U, 7U}) {
    decoder.signals[i].start_bit = 32;
    decoder.signals[i].bit_length = 8;
  }
  return decoder;
}

const CanId kTransmission = standard_id(0x7E9);

class Identifiers : public testing::InterpreterTest {
 protected:
  Identifiers() : InterpreterTest({invented()}) {}
};

// --- normal ---

TEST_F(Identifiers, AnAnswerIsAReading) {
  exchange("22D105", "62D1054B", kTransmission);
  EXPECT_EQ(readings(), Texts{"fluid_temperature 35 degC"});
  EXPECT_EQ(reading().rounding, Rounding::round);
  EXPECT_DOUBLE_EQ(reading().step, 1);
}

TEST_F(Identifiers, SeveralComeInTheOrderOfTheRequest) {
  exchange("22D105D106D107", "62D1054BD1060100D10701", kTransmission);
  EXPECT_EQ(losses(), Texts{});
  EXPECT_EQ(readings(), (Texts{"fluid_temperature 35 degC", "wide 216 degC", "selector_position 1 degC R"}));
}

TEST_F(Identifiers, AValueWithoutALabelHasNone) {
  exchange("22D107", "62D10705", kTransmission);
  EXPECT_EQ(readings(), Texts{"selector_position 5 degC"});
}

TEST_F(Identifiers, ALocalIdentifierIsOfItsOwnService) {
  exchange("2101", "61014B", kTransmission);
  EXPECT_EQ(readings(), Texts{"local 35 degC"});
  events_.clear();
  exchange("220001", "6200014B", kTransmission);
  EXPECT_EQ(readings(), Texts{});
}

TEST_F(Identifiers, WhatFollowsALocalIdentifierInTheRequestIsNoFurtherIdentifier) {
  exchange("210103", "61014B", kTransmission);  // ISO 14230-3: options behind the identifier
  EXPECT_EQ(readings(), Texts{"local 35 degC"});
  EXPECT_EQ(losses(), Texts{});
}

// --- whose it is ---

TEST_F(Identifiers, AnotherUnitsAnswerToTheSameIdentifierIsNotOurs) {
  exchange("22D105", "62D1054B", standard_id(0x7E8));
  EXPECT_TRUE(events_.empty());
}

TEST_F(Identifiers, ASignalWithoutAUnitIsTakenFromAnyThatAnswers) {
  exchange("22D107", "62D10700", standard_id(0x7EF));
  EXPECT_EQ(readings(), Texts{"selector_position 0 degC P"});
}

TEST_F(Identifiers, AUnitBehindAnAddressByteIsTakenByIdentifierAndByte) {
  Exchange e;
  e.unit = Endpoint{BusName("can0"), standard_id(0x612), 0xF1};
  e.asked = isotp_words::bytes("22D108");
  e.response = isotp_words::bytes("62D1084B");
  e.result = ExchangeResult::answered;
  interpreter_.on_exchange(e, events_);
  EXPECT_EQ(readings(), Texts{"behind 35 degC"});
  EXPECT_EQ(reading().ecu, "612/F1");
  e.unit->address = 0x40;
  interpreter_.on_exchange(e, events_);
  EXPECT_EQ(readings().size(), 1U);
}

// --- no value, never a number ---

TEST_F(Identifiers, NotAvailableIsAReadingWithoutANumberThatSaysWhatWasSent) {
  exchange("22D105", "62D105FF", kTransmission);
  exchange("22D105", "62D105FE", kTransmission);
  EXPECT_EQ(readings(), (Texts{"fluid_temperature ? not available (FF)", "fluid_temperature ? error (FE)"}));
  EXPECT_EQ(reading().quality, Quality::suspect);
  EXPECT_FALSE(reading().value);
}

TEST_F(Identifiers, OutOfRangeIsAReadingWithoutANumberThatSaysWhatWasSent) {
  Decoder decoder = invented();
  decoder.signals[0].valid_high = 150;
  interpreter_ = Interpreter({decoder});
  exchange("22D105", "62D105BF", kTransmission);
  EXPECT_EQ(readings(), Texts{"fluid_temperature ? out of range (BF)"});
  EXPECT_EQ(reading().quality, Quality::suspect);
}

TEST_F(Identifiers, ARefusalIsAReadingWithoutANumberForEachSignalThatWasAsked) {
  Exchange e;
  e.unit = Endpoint{BusName("can0"), kTransmission, std::nullopt};
  e.asked = isotp_words::bytes("22D105AAAAD107");
  e.result = ExchangeResult::refused;
  e.negative_code = 0x31;  // ISO 14229-1: requestOutOfRange
  interpreter_.on_exchange(e, events_);
  EXPECT_EQ(readings(), (Texts{"fluid_temperature ? the unit refuses it (7F code 31)",
                               "selector_position ? the unit refuses it (7F code 31)"}));
  EXPECT_EQ(reading().quality, Quality::suspect);
  events_.clear();
  e.asked = isotp_words::bytes("2101");
  e.negative_code = 0x7F;  // serviceNotSupportedInActiveSession
  interpreter_.on_exchange(e, events_);
  EXPECT_EQ(readings(), Texts{"local ? not readable without another session"});
}

TEST_F(Identifiers, AUnitThatIsBusySaysNothingOfTheValue) {
  Exchange e;
  e.unit = Endpoint{BusName("can0"), kTransmission, std::nullopt};
  e.asked = isotp_words::bytes("22D105");
  e.result = ExchangeResult::refused;
  e.negative_code = 0x21;  // ISO 14229-1: busyRepeatRequest
  interpreter_.on_exchange(e, events_);
  EXPECT_EQ(readings(), Texts{});
}

TEST_F(Identifiers, ARefusedSubFunctionIsNotReadableWithoutAnotherSession) {
  EXPECT_EQ(refusal_text(0x7E), "not readable without another session");  // ISO 14229-1
  EXPECT_EQ(refusal_text(0x7D), "the unit refuses it (7F code 7D)");
}

TEST_F(Identifiers, AnExchangeOfNobodyOrWithoutABodyBringsNothing) {
  Exchange e;
  e.asked = isotp_words::bytes("22D105");
  for (const auto result : {ExchangeResult::refused, ExchangeResult::answered, ExchangeResult::silent}) {
    e.result = result;
    e.response = isotp_words::bytes(result == ExchangeResult::answered ? "62D1054B" : "");
    interpreter_.on_exchange(e, events_);
  }
  exchange("22D105", "62", kTransmission);
  e.unit = Endpoint{BusName("can0"), kTransmission, std::nullopt};
  e.result = ExchangeResult::refused;
  e.asked = isotp_words::bytes("21");  // a request that was cut short asked for no identifier
  e.negative_code = 0x13;
  interpreter_.on_exchange(e, events_);
  EXPECT_TRUE(events_.empty());
}

TEST_F(Identifiers, ARefusalOfAnotherUnitIsNotOurs) {
  Exchange e;
  e.unit = Endpoint{BusName("can0"), standard_id(0x7E8), std::nullopt};
  e.asked = isotp_words::bytes("22D105");
  e.result = ExchangeResult::refused;
  e.negative_code = 0x31;
  interpreter_.on_exchange(e, events_);
  EXPECT_TRUE(events_.empty());
}

// --- errors ---

TEST_F(Identifiers, AWrongLengthIsALoss) {
  exchange("22D105", "62D105", kTransmission);
  exchange("22D105", "62D1054B00", kTransmission);
  EXPECT_EQ(readings(), Texts{});
  EXPECT_EQ(losses(), (Texts{"fluid_temperature: wrong length", "fluid_temperature: wrong length"}));
}

TEST_F(Identifiers, AMissingIdentifierIsALoss) {
  exchange("22D105D106", "62D1054B", kTransmission);
  EXPECT_EQ(readings(), Texts{"fluid_temperature 35 degC"});
  EXPECT_EQ(losses(), Texts{"answer lacks an identifier that was asked for"});
}

TEST_F(Identifiers, AnotherIdentifierInItsPlaceIsALoss) {
  exchange("22D105D106", "62D1054BD1070100", kTransmission);
  EXPECT_EQ(readings(), Texts{"fluid_temperature 35 degC"});
  EXPECT_EQ(losses(), Texts{"answer lacks an identifier that was asked for"});
}

TEST_F(Identifiers, AnIdentifierOfUnknownLengthBeforeAnotherIsALoss) {
  exchange("22AAAAD105", "62AAAA0102D1054B", kTransmission);
  EXPECT_EQ(readings(), Texts{});
  EXPECT_EQ(losses(), Texts{"answer holds an identifier of unknown length"});
}

TEST_F(Identifiers, AnAnswerThatEndsInsideAnIdentifierIsALoss) {
  exchange("22D106D105", "62D10601", kTransmission);
  EXPECT_EQ(readings(), Texts{});
  EXPECT_EQ(losses(), Texts{"answer ends inside an identifier"});
}

TEST_F(Identifiers, AnIdentifierThatNoDecoderNamesIsPassedOverWhenItStandsLast) {
  exchange("22D105AAAA", "62D1054BAAAA010203", kTransmission);
  EXPECT_EQ(readings(), Texts{"fluid_temperature 35 degC"});
  EXPECT_EQ(losses(), Texts{});
}

// --- broadcasts and groups ---

TEST_F(Identifiers, ABroadcastFrameIsAReadingOfItsIdentifier) {
  EXPECT_TRUE(interpreter_.names(standard_id(0x321)));
  EXPECT_FALSE(interpreter_.names(extended_id(0x321)));
  EXPECT_FALSE(interpreter_.names(standard_id(0x322)));
  interpreter_.on_broadcast(data_frame(kAt, BusName("can1"), standard_id(0x321), isotp_words::bytes("4B00")),
                            events_);
  EXPECT_EQ(readings(), Texts{"heard 35 degC"});
  EXPECT_EQ(reading().ecu, "321");
  EXPECT_EQ(reading().bus, BusName("can1"));
}

TEST_F(Identifiers, ABroadcastFrameOfAnotherLengthIsALossAndARemoteFrameIsNothing) {
  interpreter_.on_broadcast(data_frame(kAt, BusName("can0"), standard_id(0x321), isotp_words::bytes("4B")),
                            events_);
  EXPECT_EQ(losses(), Texts{"heard: wrong length"});
  CanFrame remote = data_frame(kAt, BusName("can0"), standard_id(0x321), isotp_words::bytes("4B00"));
  remote.kind = FrameKind::remote;
  events_.clear();
  interpreter_.on_broadcast(remote, events_);
  EXPECT_TRUE(events_.empty());
}

TEST(Multiplexed, AFrameThatCarriesAnotherSignalIsNeitherAReadingNorALoss) {
  Signal signal;
  signal.name = "x_here";
  signal.unit = "degC";
  signal.source = BroadcastSource{standard_id(0x322)};
  signal.length = 2;
  signal.start_bit = 8;
  signal.offset = -40;
  signal.valid_low = -40;
  signal.valid_high = 215;
  signal.multiplexor = Multiplexor{0, 8, ByteOrder::big, 2};
  Signal group = signal;
  group.name = "x_group";
  group.source = SpnSource{65280, 1, std::nullopt};
  Decoder decoder;
  decoder.signals = {signal, group};
  Interpreter interpreter({decoder});
  const TimePoint at = at_micros(1700000000000000);
  std::vector<Event> events;
  const auto hear = [&](std::string_view hex) {
    const auto bytes = isotp_words::bytes(hex);
    interpreter.on_broadcast(data_frame(at, BusName("can0"), standard_id(0x322), bytes), events);
    interpreter.on_group({at, at, {BusName("can0"), extended_id(0x18FF0003), std::nullopt}, 65280, bytes},
                         events);
  };
  hear("014B");
  EXPECT_TRUE(events.empty());
  hear("024B");
  ASSERT_EQ(events.size(), 2U);
  EXPECT_EQ(std::get<ReadingEvent>(events[0]).value, 35);
  EXPECT_EQ(std::get<ReadingEvent>(events[1]).value, 35);
  events.clear();
  hear("01");
  ASSERT_EQ(events.size(), 2U) << "of a frame of another length nobody knows what it carries";
  EXPECT_EQ(std::get<LossEvent>(events[0]).why, "x_here: wrong length");
}

Message group_from(std::uint8_t source, std::uint32_t pgn, std::string_view hex) {
  Message message;
  message.from = {BusName("can0"), extended_id(0x18FEF800U | source), std::nullopt};
  message.group = pgn;
  message.payload = isotp_words::bytes(hex);
  return message;
}

TEST_F(Identifiers, AGroupIsTakenFromItsSourceAddressAlone) {
  EXPECT_TRUE(interpreter_.wants_groups());
  EXPECT_TRUE(interpreter_.wants(65272));
  EXPECT_FALSE(interpreter_.wants(65262));
  interpreter_.on_group(group_from(3, 65272, "FFFFFFFF4BFFFFFF"), events_);
  EXPECT_EQ(readings(), (Texts{"j_any 35 degC", "j_three 35 degC"}));
  events_.clear();
  interpreter_.on_group(group_from(0, 65272, "FFFFFFFF4BFFFFFF"), events_);
  EXPECT_EQ(readings(), Texts{"j_any 35 degC"});
  events_.clear();
  interpreter_.on_group(group_from(3, 65262, "FFFFFFFF4BFFFFFF"), events_);
  EXPECT_TRUE(events_.empty());
}

TEST_F(Identifiers, TheShippedHeavyVehicleDecoderReadsTransmissionOilTemperature) {
  interpreter_ = Interpreter({testing::shipped("j1939-transmission")});
  // candied with a DBC of SPN 177 (canboat 065272-transmissionFluids1.yaml) gives 96.0 °C.
  interpreter_.on_group(group_from(3, 65272, "FFFFFF14202EFFFF"), events_);
  EXPECT_EQ(readings(), Texts{"fluid_temperature 96.00 degC"});
}

TEST_F(Identifiers, AnAddressClaimOfAnotherLengthIsALoss) {
  interpreter_.on_group(group_from(3, kAddressClaimed, "0102030405060708"), events_);
  ASSERT_EQ(vehicle().size(), 1U);
  EXPECT_EQ(vehicle().front().claim, "0807060504030201");  // SAE J1939-81: low byte first
  events_.clear();
  interpreter_.on_group(group_from(3, kAddressClaimed, "01020304050607"), events_);
  EXPECT_TRUE(vehicle().empty());
  EXPECT_EQ(losses(), Texts{"address claim: wrong length"});
}

TEST_F(Identifiers, ClaimsAndCodesAreWantedWhereverAGroupIs) {
  for (const std::uint32_t group : {kAddressClaimed, kGroupActiveCodes, kGroupPreviousCodes}) {
    EXPECT_TRUE(interpreter_.wants(group)) << group;
    EXPECT_FALSE(Interpreter({}).wants(group)) << group;
  }
}

TEST_F(Identifiers, AMessageThatIsNoGroupIsNothing) {
  Message message = group_from(3, 65272, "FFFFFFFF4BFFFFFF");
  message.group.reset();
  interpreter_.on_group(message, events_);
  EXPECT_TRUE(events_.empty());
}

TEST(NamedUnits, AreListedOnce) {
  const auto units = named_units({invented(), invented()});
  ASSERT_EQ(units.size(), 2U);
  EXPECT_EQ(units[0].response, standard_id(0x7E9));
  EXPECT_EQ(units[1].response, standard_id(0x612));
}

TEST(NamedUnits, AUnitWithANameGoesBeforeThePlaceInARange) {
  Decoder decoder = invented();
  decoder.ranges = {{standard_id(0x7E0), standard_id(0x7E2), 8, 1},
                    {standard_id(0x7E1), standard_id(0x7E3), 16, 2}};
  const auto units = named_units({decoder});
  std::vector<std::uint32_t> requests;
  for (const UnitAddress& unit : units) requests.push_back(unit.request.value);
  // 7E1 has a name; of the second range all but 7E3 meets what stands there already.
  EXPECT_EQ(requests, (std::vector<std::uint32_t>{0x7E1, 0x6F1, 0x7E0, 0x7E2, 0x7E3}));
}

}  // namespace
}  // namespace sumplog
