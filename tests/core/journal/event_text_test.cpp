#include <gtest/gtest.h>

#include <chrono>
#include <nlohmann/json.hpp>

#include "core/journal/event.h"

// The journal is a contract: one exact line of each kind. docs/journal.md quotes such lines.
namespace sumplog {
namespace {

constexpr TimePoint kAt = at_micros(1700000000123456);
const BusName kBus("can0");

TEST(JournalLine, OfAVehicle) {
  VehicleEvent e;
  e.at = kAt;
  e.bus = kBus;
  e.ecu = "7E8";
  e.vin = "11111111111111111";  // worked example of 49 CFR 565
  e.vin_check_digit = true;
  EXPECT_EQ(journal_line(e),
            R"({"t":1700000000.123456,"kind":"vehicle","bus":"can0","ecu":"7E8","vin":"11111111111111111",)"
            R"("vin_check_digit":true})");
  e = {};
  e.at = kAt;
  e.bus = kBus;
  e.ecu = "7E9";
  e.calibration_ids = {"CALID-0123456789"};
  e.cvn = {"1791BC82"};
  e.name = "TCM -TransmissionCtl";
  e.pids = {"04", "05"};
  EXPECT_EQ(journal_line(e),
            R"({"t":1700000000.123456,"kind":"vehicle","bus":"can0","ecu":"7E9",)"
            R"("calibration_ids":["CALID-0123456789"],"cvn":["1791BC82"],"name":"TCM -TransmissionCtl",)"
            R"("pids":["04","05"]})");
}

TEST(JournalLine, OfAReading) {
  ReadingEvent e;
  e.at = kAt;
  e.bus = kBus;
  e.signal = "fluid_temperature";
  e.value = 40;
  e.unit = "degC";
  e.ecu = "7E9";
  EXPECT_EQ(journal_line(e),
            R"({"t":1700000000.123456,"kind":"reading","bus":"can0","signal":"fluid_temperature","value":40,)"
            R"("unit":"degC","ecu":"7E9","quality":"measured"})");
}

TEST(JournalLine, OfAReadingWithALabelAndDecimals) {
  ReadingEvent e;
  e.at = kAt;
  e.bus = kBus;
  e.signal = "selector_position";
  e.value = -0.004;
  e.decimals = 2;
  e.label = "P";
  e.ecu = "7E9";
  EXPECT_EQ(
      journal_line(e),
      R"({"t":1700000000.123456,"kind":"reading","bus":"can0","signal":"selector_position","value":0.00,)"
      R"("label":"P","ecu":"7E9","quality":"measured"})");
}

TEST(JournalLine, OfAReadingWithoutAValueSaysWhyAndShowsNoNumber) {
  ReadingEvent e;
  e.at = kAt;
  e.bus = kBus;
  e.signal = "fluid_temperature";
  e.unit = "degC";
  e.ecu = "7E9";
  e.quality = Quality::suspect;
  e.why = "not available (FF)";
  EXPECT_EQ(
      journal_line(e),
      R"({"t":1700000000.123456,"kind":"reading","bus":"can0","signal":"fluid_temperature","unit":"degC",)"
      R"x("ecu":"7E9","quality":"suspect","why":"not available (FF)"})x");
}

TEST(JournalLine, OfThermalWithEverythingKnown) {
  ThermalEvent e;
  e.at = kAt;
  e.temp_c = 36.254;
  e.rate_c_per_min = 1.5;
  e.rate_low = 1.25;
  e.rate_high = 1.751;
  e.estimate_inside = false;
  e.window = WindowState::below;
  e.enter_in_s = Quantiles{59.94, 69.96, std::nullopt};
  e.stay_s = Quantiles{68, 80, 96.04};
  e.announce_in_s = std::optional<double>{57.5};
  e.flags = {"fast", "falling"};
  EXPECT_EQ(journal_line(e),
            R"({"t":1700000000.123456,"kind":"thermal","temp_c":36.25,"rate_c_per_min":1.50,"rate_low":1.25,)"
            R"("rate_high":1.75,"estimate_inside":false,"window":"below","enter_in_s":[59.9,70.0,null],)"
            R"("stay_s":[68.0,80.0,96.0],"announce_in_s":57.5,"flags":["fast","falling"]})");
}

TEST(JournalLine, OfThermalWithNothingKnownHasNoNumber) {
  ThermalEvent e;
  e.at = kAt;
  e.why = "no answer";
  EXPECT_EQ(journal_line(e),
            R"({"t":1700000000.123456,"kind":"thermal","window":"unknown","why":"no answer"})");
}

TEST(JournalLine, OfThermalSaysWhenItRestsOnAReadingByHand) {
  ThermalEvent e;
  e.at = kAt;
  e.temp_c = 41;
  e.window = WindowState::inside;
  e.by_hand = true;
  e.flags = {"substitute"};
  EXPECT_EQ(journal_line(e), R"({"t":1700000000.123456,"kind":"thermal","temp_c":41.00,"window":"inside",)"
                             R"("quality":"by hand","flags":["substitute"]})");
}

TEST(JournalLine, NeverIsNullAndNotKnownIsAbsent) {
  ThermalEvent e;
  e.at = kAt;
  e.window = WindowState::above;
  e.enter_in_s = Quantiles{};
  e.announce_in_s = std::optional<double>{};
  EXPECT_EQ(journal_line(e),
            R"({"t":1700000000.123456,"kind":"thermal","window":"above","enter_in_s":[null,null,null],)"
            R"("announce_in_s":null})");
}

TEST(JournalLine, OfAWindow) {
  EXPECT_EQ(journal_line(WindowEvent{kAt, WindowState::below, WindowState::inside, 35.13, ""}),
            R"({"t":1700000000.123456,"kind":"window","from":"below","to":"inside","temp_c":35.13})");
  EXPECT_EQ(journal_line(WindowEvent{kAt, WindowState::inside, WindowState::unknown, {}, "no answer"}),
            R"({"t":1700000000.123456,"kind":"window","from":"inside","to":"unknown","why":"no answer"})");
}

TEST(JournalLine, OfACheck) {
  EXPECT_EQ(
      journal_line(CheckEvent{kAt, CheckState::not_yet, {"engine is not at idle", "vehicle is moving"}, {}}),
      R"({"t":1700000000.123456,"kind":"check","state":"not yet",)"
      R"("why":["engine is not at idle","vehicle is moving"]})");
  EXPECT_EQ(journal_line(CheckEvent{kAt, CheckState::may_start, {}, {}}),
            R"({"t":1700000000.123456,"kind":"check","state":"may start"})");
}

TEST(JournalLine, OfACue) {
  EXPECT_EQ(journal_line(CueEvent{kAt, "window_soon", "The window starts in a minute"}),
            R"({"t":1700000000.123456,"kind":"cue","name":"window_soon",)"
            R"("text":"The window starts in a minute"})");
}

TEST(JournalLine, OfAnEntry) {
  EXPECT_EQ(journal_line(EntryEvent{kAt, "e1", "plug_out", R"({"by":"A"})", {}}),
            R"({"t":1700000000.123456,"kind":"entry","id":"e1","name":"plug_out","fields":{"by":"A"}})");
}

TEST(JournalLine, OfAGap) {
  EXPECT_EQ(journal_line(GapEvent{kAt, kBus, at_micros(1699999990000000), kAt, "interface is down"}),
            R"({"t":1700000000.123456,"kind":"gap","bus":"can0","from_t":1699999990.000000,)"
            R"("to_t":1700000000.123456,"why":"interface is down"})");
}

TEST(JournalLine, OfAClockThatWasSet) {
  using namespace std::chrono_literals;
  EXPECT_EQ(journal_line(ClockEvent{kAt, 3600s}),
            R"({"t":1700000000.123456,"kind":"clock","step_s":3600.000000})");
  EXPECT_EQ(journal_line(ClockEvent{kAt, -1500ms}),
            R"({"t":1700000000.123456,"kind":"clock","step_s":-1.500000})");
}

TEST(JournalLine, OfALoss) {
  EXPECT_EQ(journal_line(LossEvent{kAt, kBus, "7E9", "transfer timed out (N_Cr)", 3}),
            R"({"t":1700000000.123456,"kind":"loss","bus":"can0","ecu":"7E9",)"
            R"~("why":"transfer timed out (N_Cr)","frames":3})~");
  EXPECT_EQ(journal_line(LossEvent{kAt, {}, {}, "line 7 cannot be read", 1}),
            R"({"t":1700000000.123456,"kind":"loss","why":"line 7 cannot be read","frames":1})");
}

TEST(JournalLine, TextsAreEscaped) {
  const std::string line = journal_line(LossEvent{kAt, {}, {}, "a \"quoted\"\nline \xFF", 1});
  EXPECT_EQ(line.find('\n'), std::string::npos);
  const auto read = nlohmann::json::parse(line, nullptr, false);
  ASSERT_FALSE(read.is_discarded());
  EXPECT_EQ(read["why"], "a \"quoted\"\nline \xEF\xBF\xBD");
}

TEST(JournalWords, OfEveryState) {
  EXPECT_EQ(text_of(WindowState::unknown), "unknown");
  EXPECT_EQ(text_of(WindowState::below), "below");
  EXPECT_EQ(text_of(WindowState::inside), "inside");
  EXPECT_EQ(text_of(WindowState::above), "above");
  EXPECT_EQ(text_of(CheckState::unknown), "unknown");
  EXPECT_EQ(text_of(CheckState::not_yet), "not yet");
  EXPECT_EQ(text_of(CheckState::may_start), "may start");
  EXPECT_EQ(text_of(CheckState::stop), "stop");
  EXPECT_EQ(text_of(Quality::measured), "measured");
  EXPECT_EQ(text_of(Quality::by_hand), "by hand");
  EXPECT_EQ(text_of(Quality::suspect), "suspect");
}

TEST(JournalLine, OfACheckWithAdvice) {
  CheckEvent e;
  e.at = kAt;
  e.state = CheckState::stop;
  e.why = {"fluid is above the window"};
  e.advice = "plug in; let it cool below 30 °C";
  EXPECT_EQ(journal_line(e),
            R"({"t":1700000000.123456,"kind":"check","state":"stop","why":["fluid is above the window"],)"
            R"("advice":"plug in; let it cool below 30 °C"})");
}

TEST(JournalLine, OfAnEntryThatCameLateSaysWhenItHappenedAndThatAPersonSaysSo) {
  EntryEvent e;
  e.at = kAt;
  e.id = "7";
  e.name = "plug_in";
  e.fields = R"({"ago_s":40})";
  e.happened = kAt - std::chrono::seconds{40};
  EXPECT_EQ(journal_line(e),
            R"({"t":1700000000.123456,"kind":"entry","id":"7","name":"plug_in","fields":{"ago_s":40},)"
            R"("happened_t":1699999960.123456,"time":"by hand"})");
}

TEST(JournalLine, OfACoolDownForecast) {
  ForecastEvent e;
  e.at = kAt;
  e.target_c = 30;
  e.coolant_target_c = 50;
  e.ready_in_s = {5400.0, 7200.0, std::nullopt};
  e.samples = 3;
  e.assumes = {"still air", "20 °C around the car, as entered"};
  EXPECT_EQ(journal_line(e),
            R"({"t":1700000000.123456,"kind":"forecast","target_c":30.00,"coolant_target_c":50.00,)"
            R"("ready_in_s":[5400.0,7200.0,null],"samples":3,)"
            R"("assumes":["still air","20 °C around the car, as entered"]})");
}

TEST(JournalLine, OfWhatATemperatureMeansForTheLevel) {
  LevelSumsEvent e;
  e.at = kAt;
  e.plug_in_c = 50;
  e.edge_c = 45;
  e.fill_l = 10;
  e.ml_per_c = 7.63;
  e.short_ml = {34.1, 38.2, 38.9};
  e.assumes = {"density 850 ± 15 kg/m³ at 15 °C, nobody said"};
  EXPECT_EQ(
      journal_line(e),
      R"({"t":1700000000.123456,"kind":"sums","of":"level","plug_in_c":50.00,"edge_c":45.00,"fill_l":10.00,)"
      R"("ml_per_c":7.6,"short_ml":[34.1,38.2,38.9],)"
      R"("assumes":["density 850 ± 15 kg/m³ at 15 °C, nobody said"]})");
}

TEST(JournalLine, OfAStage) {
  StageEvent e;
  e.at = kAt;
  e.stage = "road test before";
  e.change = StageChange::skipped;
  e.why = "no plates";
  EXPECT_EQ(
      journal_line(e),
      R"({"t":1700000000.123456,"kind":"stage","stage":"road test before","change":"skipped","why":"no plates"})");
  e = {kAt, "exchange", StageChange::begun, {}, kAt - std::chrono::seconds(40)};
  EXPECT_EQ(journal_line(e), R"({"t":1700000000.123456,"kind":"stage","stage":"exchange","change":"begun",)"
                             R"("happened_t":1699999960.123456,"time":"by hand"})");
}

TEST(JournalLine, OfAHoldOfTheSelectorCycle) {
  EXPECT_EQ(
      journal_line(HoldEvent{kAt, "R", 2.5, 3, false, Quality::measured, false}),
      R"({"t":1700000000.123456,"kind":"hold","position":"R","held_s":2.5,"wanted_s":3.0,"enough":false,)"
      R"("quality":"measured","cycle_complete":false})");
  EXPECT_EQ(
      journal_line(HoldEvent{kAt, "D", {}, 3, true, Quality::by_hand, true}),
      R"({"t":1700000000.123456,"kind":"hold","position":"D","wanted_s":3.0,"enough":true,"quality":"by hand","cycle_complete":true})");
}

TEST(JournalLine, OfAVerdict) {
  VerdictEvent e;
  e.at = kAt;
  e.why = {"the reading was lost for 12 s, 20 s after plug out: no answer"};
  e.out = kAt - std::chrono::seconds(60);
  e.in = kAt;
  e.by_hand = {"plug in 5 s ago"};
  e.temp_out_c = 36;
  e.temp_decision_c = 40;
  e.temp_in_c = 41.5;
  e.temp_low_c = 36;
  e.temp_high_c = 41.5;
  e.rate_c_per_min = 1.25;
  e.engine_rpm = 698.4;
  e.inside_for_s = 60;
  e.level_seen = LevelSeen{"drip", 3.0, "T. Example", "drip", true};
  e.origin = "demo-9/service.toml: invented";
  EXPECT_EQ(
      journal_line(e),
      R"({"t":1700000000.123456,"kind":"verdict","conditions":"not kept","thermometer":"measured",)"
      R"("why":["the reading was lost for 12 s, 20 s after plug out: no answer"],"out_t":1699999940.123456,"in_t":1700000000.123456,)"
      R"("by_hand":["plug in 5 s ago"],"temp_out_c":36.00,"temp_decision_c":40.00,"temp_in_c":41.50,)"
      R"("temp_low_c":36.00,"temp_high_c":41.50,"rate_c_per_min":1.25,"engine_rpm":698,"inside_for_s":60.0,)"
      R"("level_seen":{"flow":"drip","ml_in_10_s":3.0,"by":"T. Example","criterion":"drip","reached":true},)"
      R"("origin":"demo-9/service.toml: invented"})");
}

TEST(JournalLine, OfAVerdictOfWhichNothingIsKnown) {
  VerdictEvent e;
  e.at = e.out = e.in = kAt;
  EXPECT_EQ(journal_line(e),
            R"({"t":1700000000.123456,"kind":"verdict","conditions":"not kept","thermometer":"measured",)"
            R"("out_t":1700000000.123456,"in_t":1700000000.123456,"inside_for_s":0.0})");
}

TEST(JournalLine, OfABalance) {
  BalanceEvent e;
  e.at = kAt;
  e.reference_c = 15;
  e.density_kg_per_m3 = 850;
  e.out_l = 4.059112;
  e.in_l = 3.985212;
  e.parts = {{"drain", 4.059112, 0}, {"refill", 0, 3.985212}};
  e.to_refill_l = 0.0742;
  e.fresh_c = 20;
  e.exchange_ahead_l = -0.6;
  e.exchange_state = "stop";
  e.assumes = {"one volume has no temperature"};
  EXPECT_EQ(
      journal_line(e),
      R"({"t":1700000000.123456,"kind":"sums","of":"balance","reference_c":15.00,"density_kg_per_m3":850.0,)"
      R"("out_l":4.059,"in_l":3.985,"parts":[{"part":"drain","out_l":4.059,"in_l":0.000},)"
      R"({"part":"refill","out_l":0.000,"in_l":3.985}],"to_refill_l":0.074,"fresh_c":20.00,)"
      R"("exchange_ahead_l":-0.600,"exchange_state":"stop","assumes":["one volume has no temperature"]})");
}

TEST(JournalLine, OfAnExchange) {
  ExchangeEvent e;
  e.at = kAt;
  e.fill_l = 10;
  e.dead_l = 0.5;
  e.drained_share = 0.45;
  e.steps = {{5, 0.632, 0.81}, {12, 0.829, 0.95}};
  e.wanted_share = 0.9;
  e.more_mixed_l = 5.1;
  EXPECT_EQ(
      journal_line(e),
      R"({"t":1700000000.123456,"kind":"sums","of":"exchange","fill_l":10.00,"dead_l":0.50,)"
      R"("drained_share":0.450,"steps":[{"through_l":5.00,"new_mixed":0.632,"new_ideal":0.810},)"
      R"({"through_l":12.00,"new_mixed":0.829,"new_ideal":0.950}],"wanted_share":0.900,"more_mixed_l":5.10})");
}

}  // namespace
}  // namespace sumplog
