#include "core/asker/live_job.h"

#include "core/asker/live_vehicle.h"
#include "core/item/json_line.h"
#include "core/job/job_settings.h"

namespace sumplog::testing {
namespace {

using namespace std::chrono_literals;

std::string one_unit(const std::string& more) {
  return R"(format = 1
title = "one unit"
lasts_s = 7200
[bus]
[vehicle]
ambient_c = 20
fluid_c = 30
coolant_c = 40
engine = "running"
[[ecu]]
id = "transmission"
request = 0x7E1
response = 0x7E9
pids = [0x0D]
[[ecu.did]]
did = 0x1A05
signal = "fluid_temperature"
offset = -40
)" + more;
}

const char kTwentyMinutesOff[] = R"(
[[event]]
at_s = 60
what = "ecu_silent"
ecu = "transmission"
[[event]]
at_s = 1260
what = "ecu_speaks"
ecu = "transmission"
)";

TEST(LiveJobTest, GoesOnByItselfAfterTwentyMinutesWithoutIgnitionBehindAGateway) {
  LiveVehicle car(scenario_from(one_unit(kTwentyMinutesOff)), demo_opening());
  car.run_for(60s);
  const TimePoint off = car.now();
  EXPECT_GT(car.readings("fluid_temperature"), 100U);
  car.run_for(1200s);
  EXPECT_LE(car.sent(off + 15s).size(), 22U) << "a look now and then";
  const TimePoint on = car.now();
  car.run_for(120s);
  EXPECT_GT(car.readings("fluid_temperature", on), 100U);
  std::vector<std::string> states;
  for (const VehicleEvent& event : car.all<VehicleEvent>())
    if (!event.state.empty()) states.push_back(event.ecu + " " + event.state);
  EXPECT_EQ(states, (std::vector<std::string>{"7E9 silent", " no unit answers", "7E9 answers again"}));
}

TEST(LiveJobTest, SendsNothingToAVehicleThatFellAsleepAndStartsWhenItSpeaks) {
  LiveJob job(decoders_of(demo_opening()), BusName("can0"), kJobStart);
  TimePoint now = kJobStart;
  LiveOutput out;
  for (const Item& item : demo_opening()) job.on_written(item, out);
  int sent = 0;
  const auto until = [&](TimePoint end, bool answers, bool speaks) {
    for (; now < end; now += 50ms) {
      if (speaks) job.on_not_kept(data_frame(now, BusName("can0"), standard_id(0x123), {}));
      LiveOutput step;
      job.on_time(now, step);
      for (const Item& item : step.record) job.on_written(item, out);
      for (const GuardedFrame& guarded : step.send) {
        ++sent;
        CanFrame echo = guarded.frame();
        echo.at = now;
        job.on_written(echo, out);
        if (!answers || echo.id != standard_id(0x7E1)) continue;
        const std::array<std::uint8_t, 5> temperature{0x04, 0x62, echo.bytes[2], echo.bytes[3], 0x4B};
        job.on_written(data_frame(now, BusName("can0"), standard_id(0x7E9), temperature), out);
      }
    }
  };
  until(now + 30s, true, true);
  EXPECT_GT(sent, 60);
  until(now + 20s, false, false);
  sent = 0;
  until(now + 1h, false, false);
  EXPECT_EQ(sent, 0);
  until(now + 10s, true, true);
  EXPECT_GT(sent, 20);
}

TEST(LiveJobTest, ReadsOnceOnRequestWithTheIgnitionOff) {
  LiveVehicle car(scenario_from(one_unit(kTwentyMinutesOff)), demo_opening());
  car.run_for(1130s);
  const TimePoint asked = car.now();
  car.enter("read_once");
  car.run_for(500ms);
  // Virtual time stops where something happens, here at a look (01 00), which comes back in the same moment.
  int readings = 0;
  for (const CanFrame& frame : car.sent(asked))
    readings += frame.id == standard_id(0x7E1) && frame.bytes[1] == 0x22 ? 1 : 0;
  EXPECT_EQ(readings, 1);
  EXPECT_LE(car.sent(asked).size(), 2U);
}

TEST(LiveJobTest, AReadingOnRequestThatIsAnsweredStartsTheJobAgain) {
  LiveVehicle car(scenario_from(one_unit(kTwentyMinutesOff)), demo_opening());
  car.run_for(1265s);
  car.enter("read_once");
  const TimePoint asked = car.now();
  car.run_for(5s);
  EXPECT_GE(car.readings("fluid_temperature", asked), 8U);
}

TEST(LiveJobTest, SaysOnceThatAnotherTesterAsksAndUsesItsAnswers) {
  FlowRun run(demo_opening());
  const BusName bus("can0");
  TimePoint now = kJobStart;
  for (int i = 0; i < 10; ++i) {
    now += 10s;
    run.feed(OtherTester{now, bus, standard_id(0x7E1)});
    run.feed(data_frame(now, bus, standard_id(0x7E1), std::array<std::uint8_t, 8>{0x03, 0x22, 0x1A, 0x05}));
    run.feed(data_frame(now + 10ms, bus, standard_id(0x7E9),
                        std::array<std::uint8_t, 8>{0x04, 0x62, 0x1A, 0x05, 0x4B}));
  }
  now += 60s;
  run.feed(OtherTester{now, bus, standard_id(0x7E1)});
  int said = 0;
  for (const VehicleEvent& event : run.all<VehicleEvent>())
    said += event.state == "another tester asks on 7E1" ? 1 : 0;
  EXPECT_EQ(said, 2) << "again after it had gone";
  EXPECT_EQ(run.all<ReadingEvent>().size(), 10U);
}

// --- SAE J1939 ---

const char kTruck[] = R"(format = 1
title = "truck that tells its oil temperature only when asked"
lasts_s = 3600
[bus]
identifiers = 29
bit_rate = 250000
[vehicle]
ambient_c = 20
fluid_c = 30
coolant_c = 40
engine = "running"
[j1939]
engine_address = 0
transmission_address = 3
engine_speed_s = 1
transmission_fluids_s = 3500
)";

std::vector<Item> truck_opening(const std::string& pgn = "65272") {
  return {Settings{kJobStart, "job", "program", "", {}},
          DecoderText{kJobStart, "truck/signals.toml", R"(format = 1
id = "truck"
title = "invented"
[[signal]]
name = "fluid_temperature"
unit = "degC"
spn = 177
pgn = )" + pgn + R"(
source_address = 3
length = 8
start_bit = 32
bit_length = 16
byte_order = "little"
scale = 0.03125
offset = -273
decimals = 2
valid = [-273, 1734]
poll_s = 1
origin = "invented"
checks = [
  { bytes = "FF FF FF FF 00 00 FF FF", value = -273 },
  { bytes = "FF FF FF FF E0 1F FF FF", value = -18 },
  { bytes = "FF FF FF FF E0 FA FF FF", value = 1734 },
]
)"}};
}

CanFrame first_on(const LiveVehicle& car, std::uint32_t id) {
  for (const CanFrame& frame : car.frames())
    if (frame.id == extended_id(id)) return frame;
  ADD_FAILURE() << "no frame on " << id;
  return {};
}

TEST(LiveJobTest, ClaimsAnAddressAndAsksForTheGroupThatTheDecoderNames) {
  LiveVehicle car(scenario_from(kTruck), truck_opening());
  car.run_for(60s);
  const std::size_t readings = car.readings("fluid_temperature");
  EXPECT_GE(readings, 55U);
  EXPECT_LE(readings, 62U);
  const CanFrame claim = first_on(car, 0x18EEFFF9);
  const CanFrame request = first_on(car, 0x18EA03F9);
  EXPECT_GE(request.at - claim.at, 250ms);  // SAE J1939-81
  EXPECT_EQ(hex_text(request.bytes.data(), request.length), "F8FE00");
}

TEST(LiveJobTest, DoesNotAskAgainForAGroupThatTheUnitDoesNotHave) {
  LiveVehicle car(scenario_from(kTruck), truck_opening("61445"));  // the truck has no gears
  car.run_for(60s);
  std::size_t asked = 0;
  for (const CanFrame& frame : car.frames()) asked += frame.id == extended_id(0x18EA03F9) ? 1 : 0;
  EXPECT_EQ(asked, 1U);
}

TEST(LiveJobTest, GivesTheAddressUpToAnybodyWhoClaimsIt) {
  LiveJob job(decoders_of(truck_opening()), BusName("can0"), kJobStart);
  LiveOutput out;
  for (const Item& item : truck_opening()) job.on_written(item, out);
  TimePoint now = kJobStart;
  int groups = 0;
  const auto until = [&](TimePoint end) {
    for (; now < end; now += 50ms) {
      LiveOutput step;
      job.on_time(now, step);
      for (const Item& item : step.record) job.on_written(item, out);
      for (const GuardedFrame& guarded : step.send) {
        groups += guarded.frame().id == extended_id(0x18EA03F9) ? 1 : 0;
        CanFrame echo = guarded.frame();
        echo.at = now;
        job.on_written(echo, out);
      }
    }
  };
  until(now + 5s);
  EXPECT_GE(groups, 1);
  groups = 0;
  job.on_written(data_frame(now, BusName("can0"), extended_id(0x18EEFFF9), std::array<std::uint8_t, 8>{0x01}),
                 out);
  until(now + 60s);
  EXPECT_EQ(groups, 0);
}

TEST(LiveJobTest, TellsWhoHasTheAddressWhenSomebodyAsks) {
  LiveJob job(decoders_of(truck_opening()), BusName("can0"), kJobStart);
  LiveOutput out;
  for (const Item& item : truck_opening()) job.on_written(item, out);
  // SAE J1939-21 request from 0 to all for EE00.
  const std::array<std::uint8_t, 3> who{0x00, 0xEE, 0x00};
  job.on_written(data_frame(kJobStart, BusName("can0"), extended_id(0x18EAFF00), who), out);
  EXPECT_TRUE(out.send.empty()) << "no address yet";
  job.on_time(kJobStart, out);
  out.clear();
  job.on_written(data_frame(kJobStart + 2s, BusName("can0"), extended_id(0x18EAFF00), who), out);
  ASSERT_EQ(out.send.size(), 1U);
  EXPECT_EQ(out.send[0].frame().id, extended_id(0x18EEFFF9));
}

TEST(LiveJobTest, TellsItOnlyWhoAsksForItHereAndOnceASecondAtMost) {
  const BusName bus("can0");
  const std::array<std::uint8_t, 3> who{0x00, 0xEE, 0x00};
  // One frame two seconds after the claim: is it answered?
  const auto answered = [&](BusName on, std::uint32_t id, std::span<const std::uint8_t> bytes,
                            Duration after = 2s) {
    LiveJob job(decoders_of(truck_opening()), bus, kJobStart);
    LiveOutput out;
    for (const Item& item : truck_opening()) job.on_written(item, out);
    job.on_time(kJobStart, out);
    out.clear();
    job.on_written(data_frame(kJobStart + after, on, extended_id(id), bytes), out);
    return !out.send.empty();
  };
  EXPECT_TRUE(answered(bus, 0x18EAF900, who)) << "us alone";
  EXPECT_FALSE(answered(bus, 0x18EA0300, who)) << "somebody else";
  EXPECT_FALSE(answered(bus, 0x18EAFF00, who, 900ms));
  EXPECT_FALSE(answered(BusName("can1"), 0x18EAFF00, who));
  EXPECT_FALSE(answered(bus, 0x18EAFF00, std::array<std::uint8_t, 3>{0xCA, 0xFE, 0x00})) << "another group";
  EXPECT_FALSE(answered(bus, 0x18EAFF00, std::array<std::uint8_t, 2>{0x00, 0xEE})) << "cut short";
  EXPECT_FALSE(answered(bus, 0x18FECA00, who)) << "no request";
}

TEST(LiveJobTest, AShortIdentifierIsNoRequestForOurAddress) {
  LiveJob job(decoders_of(truck_opening()), BusName("can0"), kJobStart);
  LiveOutput out;
  for (const Item& item : truck_opening()) job.on_written(item, out);
  job.on_time(kJobStart, out);
  out.clear();
  const std::array<std::uint8_t, 3> who{0x00, 0xEE, 0x00};
  job.on_written(data_frame(kJobStart + 2s, BusName("can0"), standard_id(0x7FF), who), out);
  EXPECT_TRUE(out.send.empty());
}

TEST(LiveJobTest, WhereSomebodyElseHasOurAddressItIsNotClaimedAndNoGroupIsAskedFor) {
  LiveJob job(decoders_of(truck_opening()), BusName("can0"), kJobStart);
  LiveOutput out;
  for (const Item& item : truck_opening()) job.on_written(item, out);
  job.on_written(
      data_frame(kJobStart, BusName("can0"), extended_id(0x18EEFFF9), std::array<std::uint8_t, 8>{1}), out);
  for (TimePoint now = kJobStart; now < kJobStart + 20s; now += 50ms) job.on_time(now, out);
  for (const GuardedFrame& one : out.send)
    EXPECT_FALSE(one.frame().id == extended_id(0x18EEFFF9) || one.frame().id == extended_id(0x18EA03F9));
  ASSERT_FALSE(job.deadline() && *job.deadline() < kJobStart) << "and it is not tried for ever";
}

TEST(LiveJobTest, WhoLostTheAddressDoesNotClaimItAgainWhenAsked) {
  LiveJob job(decoders_of(truck_opening()), BusName("can0"), kJobStart);
  LiveOutput out;
  for (const Item& item : truck_opening()) job.on_written(item, out);
  job.on_time(kJobStart, out);
  out.clear();
  const BusName bus("can0");
  job.on_written(data_frame(kJobStart + 1s, bus, extended_id(0x18EEFFF9), std::array<std::uint8_t, 8>{1}),
                 out);
  job.on_written(
      data_frame(kJobStart + 3s, bus, extended_id(0x18EAFF00), std::array<std::uint8_t, 3>{0x00, 0xEE, 0x00}),
      out);
  EXPECT_TRUE(out.send.empty());
}

// --- what is recorded ---

TEST(LiveJobTest, AnotherTesterIsRecordedEveryTenSecondsWhileItAsks) {
  LiveJob job(decoders_of(demo_opening()), BusName("can0"), kJobStart);
  LiveOutput out;
  for (const Item& item : demo_opening()) job.on_written(item, out);
  std::size_t recorded = 0;
  for (int s = 0; s < 25; ++s) {
    out.clear();
    job.on_written(data_frame(kJobStart + std::chrono::seconds{s}, BusName("can0"), standard_id(0x7E1),
                              std::array<std::uint8_t, 4>{0x03, 0x22, 0x1A, 0x05}),
                   out);
    for (const Item& item : out.record) recorded += std::holds_alternative<OtherTester>(item) ? 1 : 0;
  }
  EXPECT_EQ(recorded, 3U);
}

TEST(LiveJobTest, ADeadlineOfTheCoreIsRecordedOnceUntilItIsWritten) {
  LiveJob job(decoders_of(demo_opening()), BusName("can0"), kJobStart);
  LiveOutput out;
  for (const Item& item : demo_opening()) job.on_written(item, out);
  job.on_time(kJobStart, out);
  ASSERT_FALSE(out.send.empty());
  CanFrame echo = out.send.front().frame();
  echo.at = kJobStart;
  job.on_written(echo, out);  // from now on the core waits for an answer
  out.clear();
  const auto advances = [&] {
    return std::count_if(out.record.begin(), out.record.end(),
                         [](const Item& item) { return std::holds_alternative<Advance>(item); });
  };
  job.on_time(kJobStart + 5s, out);
  job.on_time(kJobStart + 6s, out);
  ASSERT_EQ(advances(), 1);
  EXPECT_TRUE(job.deadline().value_or(TimePoint::max()) > std::get<Advance>(out.record.front()).at)
      << "nor is it waited for again";
  const Item advance = out.record.front();
  out.clear();
  job.on_written(advance, out);
  job.on_time(kJobStart + 7s, out);
  EXPECT_LE(advances(), 1);
}

TEST(LiveJobTest, TheEndOfAScanIsRecordedOnceUntilItIsWritten) {
  LiveJob job(decoders_of(demo_opening()), BusName("can0"), kJobStart);
  LiveOutput out;
  for (const Item& item : demo_opening()) job.on_written(item, out);
  job.on_written(Entry{kJobStart, "1", "plug_out", "{}"}, out);
  job.on_written(ScanMark{kJobStart, true, "before"},
                 out);  // with the plug out there is nothing that goes on
  out.clear();
  job.on_time(kJobStart + 1s, out);
  job.on_time(kJobStart + 2s, out);
  const auto marks = std::count_if(out.record.begin(), out.record.end(),
                                   [](const Item& item) { return std::holds_alternative<ScanMark>(item); });
  EXPECT_EQ(marks, 1);
}

// --- what the shell tells and asks ---

TEST(LiveJobTest, AFrameThatCouldNotBeSentIsNotTakenForOursWhenAnotherTesterSendsTheSame) {
  const auto told_of_another = [](bool sent) {
    LiveJob job(decoders_of(demo_opening()), BusName("can0"), kJobStart);
    LiveOutput out;
    for (const Item& item : demo_opening()) job.on_written(item, out);
    job.on_time(kJobStart, out);
    EXPECT_FALSE(out.send.empty());
    const GuardedFrame frame = out.send.front();
    if (!sent) job.on_not_sent(frame);
    out.clear();
    CanFrame same = frame.frame();
    same.at = kJobStart + 1ms;
    job.on_written(same, out);
    return std::any_of(out.record.begin(), out.record.end(),
                       [](const Item& item) { return std::holds_alternative<OtherTester>(item); });
  };
  EXPECT_FALSE(told_of_another(true));
  EXPECT_TRUE(told_of_another(false));
}

TEST(LiveJobTest, WhoIsThereIsAskedOfAllUnitsForTheSearchOfABitRateAndOfNobodyElse) {
  LiveJob job(decoders_of(demo_opening()), BusName("can0"), kJobStart);
  const auto asked = job.ask_who(standard_id(0x7DF), kJobStart);
  ASSERT_TRUE(asked);
  EXPECT_EQ(asked->frame().id, standard_id(0x7DF));
  EXPECT_EQ(hex_text(asked->frame().bytes.data(), 3), "020100");
  EXPECT_FALSE(job.ask_who(standard_id(0x123), kJobStart)) << "the guard decides";
}

TEST(LiveJobTest, NothingIsSentAfterTheControllerWentOffTheBus) {
  LiveJob job(decoders_of(demo_opening()), BusName("can0"), kJobStart);
  LiveOutput out;
  for (const Item& item : demo_opening()) job.on_written(item, out);
  CanFrame off;
  off.at = kJobStart;
  off.bus = BusName("can0");
  off.kind = FrameKind::error;
  off.id = extended_id(0x40);  // linux/can/error.h, CAN_ERR_BUSOFF
  off.length = 8;
  job.on_written(off, out);
  for (TimePoint now = kJobStart; now < kJobStart + 10s; now += 50ms) job.on_time(now, out);
  EXPECT_TRUE(out.send.empty());
}

}  // namespace
}  // namespace sumplog::testing
