#include "core/journal/flow.h"

#include <algorithm>
#include <limits>
#include <utility>

#include "core/journal/flow_run.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;
using testing::demo_opening;
using testing::FlowRun;
using testing::JobScript;
using testing::kJobStart;
using Texts = std::vector<std::string>;

Texts losses(const FlowRun& run) {
  Texts texts;
  for (const LossEvent& loss : run.all<LossEvent>()) texts.push_back(loss.why);
  return texts;
}

// --- normal ---

TEST(Flow, ARequestAndItsAnswerBecomeAReadingAWindowAndACheck) {
  FlowRun run(JobScript().fluid(40).items());
  ASSERT_EQ(run.exchanges().size(), 1U);
  ASSERT_EQ(run.all<ReadingEvent>().size(), 1U);
  EXPECT_EQ(run.all<ReadingEvent>().front().value, 40);
  ASSERT_EQ(run.all<WindowEvent>().size(), 1U);
  EXPECT_EQ(run.all<WindowEvent>().front().to, WindowState::inside);
  EXPECT_EQ(run.all<CheckEvent>().back().state, CheckState::unknown) << "engine and selector are not known";
}

TEST(Flow, GoesOnWhereItWasMovedTo) {
  const std::vector<Item> items = JobScript().fluid(40).items();
  Output out;
  Flow first;
  for (std::size_t i = 0; i + 2 < items.size(); ++i) first.on_item(items[i], out);
  Flow second(std::move(first));
  EXPECT_EQ(second.now(), testing::kJobStart);
  out.clear();
  for (std::size_t i = items.size() - 2; i < items.size(); ++i) second.on_item(items[i], out);
  EXPECT_TRUE(std::any_of(out.events.begin(), out.events.end(),
                          [](const Event& event) { return std::holds_alternative<ReadingEvent>(event); }));
}

TEST(Flow, APartOfAJ1939TransferIsNoGroupEvenWhereADecoderNamesIt) {
  const auto readings = [](const std::string& group, std::uint32_t id) {
    const std::string text =
        "format = 1\nid = \"truck\"\ntitle = \"t\"\n[[signal]]\nname = \"fluid_temperature\"\nunit = "
        "\"degC\"\n"
        "spn = 0\npgn = " +
        group +
        "\nsource_address = 3\nlength = 8\nstart_bit = 0\nbit_length = 8\nbyte_order = \"big\"\nscale = "
        "1\noffset = -40\n"
        "valid = [-40, 170]\norigin = \"invented\"\norigin_note = \"for this test\"\nchecks = [\n"
        "{ bytes = \"00 00 00 00 00 00 00 00\", value = -40 },\n{ bytes = \"0A 00 00 00 00 00 00 00\", value "
        "= -30 },\n"
        "{ bytes = \"D2 00 00 00 00 00 00 00\", value = 170 }]\n";
    FlowRun run(JobScript({Settings{kJobStart, "job", "program", "", {}},
                           DecoderText{kJobStart, "truck/signals.toml", text}})
                    .frame(extended_id(id), "5000000000000000")
                    .items());
    EXPECT_TRUE(group == "0xEC00" || losses(run).empty()) << losses(run).front();
    return run.all<ReadingEvent>().size();
  };
  // SAE J1939-21: EC00 is the transport's connection management, FEF8 a group like others.
  EXPECT_EQ(readings("0xFEF8", 0x18FEF803), 1U);
  EXPECT_EQ(readings("0xEC00", 0x18ECFF03), 0U);
}

TEST(Flow, AnAnswerThatNobodyAskedForIsNoReading) {
  FlowRun run(JobScript().frame(standard_id(0x7E9), "04621A0550AAAAAA").items());
  EXPECT_TRUE(run.all<ReadingEvent>().empty());
  EXPECT_EQ(losses(run), Texts{"answer without a request"});
}

TEST(Flow, TheJournalIsInTheOrderOfTime) {
  JobScript script;
  for (int i = 0; i < 50; ++i) {
    script.fluid(30 + i / 4).wait(i % 7 == 0 ? 6s : 500ms);
    if (i % 11 == 0) script.frame(standard_id(0x7E9), "100A621A05505050");  // a transfer that nobody ends
  }
  FlowRun run(script.item(End{script.now()}).items());
  std::optional<double> before;
  for (const std::string& line : run.lines()) {
    const double t = std::stod(line.substr(5));
    if (before) {
      ASSERT_LE(*before, t) << line;
    }
    before = t;
  }
}

TEST(Flow, ProblemsOfTheSettingsAreSaidFirst) {
  FlowRun run(demo_opening({{"window", "45:35"}}));
  EXPECT_TRUE(run.lines().empty()) << "more of the opening may come";
  run.feed(Advance{kJobStart});
  ASSERT_FALSE(losses(run).empty());
  EXPECT_TRUE(losses(run).front().starts_with("setting is not used: window '45:35'"));
}

TEST(Flow, SettingsInTheMiddleOfAJobChangeNothing) {
  JobScript script;
  script.fluid(40).item(Settings{script.now(), "x", "x", "", {{"window", "80:90"}}}).wait(500ms).fluid(40);
  EXPECT_EQ(FlowRun(script.items()).all<WindowEvent>().size(), 1U);
}

// --- time ---

TEST(Flow, TimeNeverGoesBack) {
  FlowRun run(JobScript().fluid(40).wait(-10s).fluid(41).wait(10s).fluid(42).items());
  const auto readings = run.all<ReadingEvent>();
  ASSERT_EQ(readings.size(), 3U);
  EXPECT_EQ(readings[1].at, readings[0].at);
  EXPECT_GE(readings[2].at, readings[1].at);
  EXPECT_TRUE(run.all<GapEvent>().empty());
}

TEST(Flow, DeadlinesFireBeforeTheItemEarliestFirst) {
  JobScript script;
  script.fluid(40);
  const TimePoint answered = script.now();
  script.wait(1500ms).frame(standard_id(0x7DF), "02010CCCCCCCCCCC");
  const TimePoint asked = script.now();
  script.wait(100ms).frame(standard_id(0x7E8), "100A490201505050");
  const TimePoint begun = script.now();
  script.wait(60s).item(Advance{script.now()});
  FlowRun run(script.items());
  ASSERT_EQ(run.all<LossEvent>().size(), 2U);
  EXPECT_EQ(run.all<LossEvent>().back().why, "request without an answer");
  EXPECT_EQ(run.all<LossEvent>().front().why, "transfer timed out (N_Cr)");
  EXPECT_EQ(run.all<LossEvent>().front().at, begun + 1s) << "ISO 15765-2, N_Cr";
  ASSERT_EQ(run.exchanges().size(), 2U);
  EXPECT_EQ(run.exchanges().back().result, ExchangeResult::silent);
  EXPECT_EQ(run.exchanges().back().asked_at, asked);
  EXPECT_EQ(run.exchanges().back().ended_at, begun + 1s) << "the transfer held the question open";
  EXPECT_EQ(run.all<WindowEvent>().back().to, WindowState::unknown);
  EXPECT_EQ(run.all<WindowEvent>().back().at, answered + 3s + 1us);
}

TEST(Flow, TellsWhenItsNextDeadlineIs) {
  FlowRun run(demo_opening());
  EXPECT_FALSE(run.flow().deadline());
  JobScript script(std::vector<Item>{});
  script.frame(standard_id(0x7E1), "03221A05CCCCCCCC");
  const TimePoint asked = script.now();
  run.feed(script.items());
  EXPECT_EQ(run.flow().deadline(), asked + 1s);
  EXPECT_EQ(run.flow().now(), asked);
  run.feed(Advance{asked + 1s});
  EXPECT_EQ(run.exchanges().back().result, ExchangeResult::silent);
  EXPECT_FALSE(run.flow().deadline());
}

TEST(Flow, TheDeadlineOfAJ1939TransferIsOneOfThem) {
  const std::string name = "j1939-transmission/signals.toml";
  JobScript script(
      {DecoderText{kJobStart, name, testing::file_text(std::string(SUMPLOG_SOURCE) + "/decoders/" + name)}});
  // SAE J1939-21: BAM of 14 bytes in 2 packets; each packet is due within T1 = 750 ms.
  script.frame(extended_id(0x18ECFF03), "200E0002FFF8FE00");
  FlowRun run(script.items());
  ASSERT_TRUE(run.flow().deadline());
  EXPECT_EQ(*run.flow().deadline(), script.now() + 750ms);
  run.feed(Advance{*run.flow().deadline()});
  EXPECT_EQ(run.all<LossEvent>().size(), 1U);
}

TEST(Flow, ADeadlineThatHasFiredDoesNotComeBack) {
  FlowRun run(JobScript().fluid(40).frame(standard_id(0x7E8), "100A490201505050").items());
  int rounds = 0;
  while (const auto due = run.flow().deadline()) {
    ASSERT_GE(*due, run.flow().now());
    run.feed(Advance{*due});
    ASSERT_LT(++rounds, 20);
  }
  EXPECT_GE(rounds, 2);
}

TEST(Flow, TimesFarOutsideAnyCalendarDoNotOverflow) {
  // The sanitizer build looks for the overflow.
  using Limits = std::numeric_limits<std::int64_t>;
  for (const std::int64_t far : {Limits::max(), Limits::min()}) {
    FlowRun run(JobScript().fluid(40).items());
    CanFrame frame = data_frame(at_micros(far), BusName("can0"), standard_id(0x7E1),
                                isotp_words::bytes("03221A05CCCCCCCC"));
    run.feed(frame);
    frame.id = standard_id(0x7E9);
    frame.set_data(isotp_words::bytes("037F2278CCCCCCCC"));
    run.feed(frame);
    run.feed(GivenReading{at_micros(far), "fluid_temperature", "40"});
    run.feed(End{at_micros(far)});
    EXPECT_FALSE(run.lines().empty());
  }
  FlowRun from_the_start;
  from_the_start.feed(demo_opening());
  from_the_start.feed(Settings{TimePoint::min(), "", "", "", {}});
  from_the_start.feed(GivenReading{TimePoint::min(), "fluid_temperature", "40"});
  from_the_start.feed(GivenReading{TimePoint::max(), "fluid_temperature", "41"});
  EXPECT_EQ(from_the_start.all<GapEvent>().size(), 1U);
}

TEST(Flow, AFrameThatMeansNothingMovesTheTimeOnAllTheSame) {
  FlowRun run;
  run.feed(demo_opening());
  run.feed(GivenReading{kJobStart + 1s, "fluid_temperature", "40"});
  const TimePoint later = kJobStart + 1500ms;  // nothing is due before
  run.feed(data_frame(later, BusName("can0"), standard_id(0x001), std::array<std::uint8_t, 2>{1, 2}));
  EXPECT_EQ(run.flow().now(), later);
  run.feed(GivenReading{kJobStart + 1s, "fluid_temperature", "41"});  // recorded out of order
  EXPECT_EQ(run.all<ReadingEvent>().back().at, later);
}

// --- link, gaps, end ---

TEST(Flow, ALinkThatGoesDownMakesTheWindowUnknownAtOnce) {
  JobScript script;
  script.fluid(40).wait(100ms);
  script.item(LinkEvent{script.now(), BusName("can0"), LinkState::down});
  FlowRun run(script.items());
  EXPECT_EQ(run.all<WindowEvent>().back().to, WindowState::unknown);
  EXPECT_EQ(run.all<WindowEvent>().back().why, "interface is down");
  EXPECT_EQ(run.all<WindowEvent>().back().at, script.now());
}

TEST(Flow, ABusOffErrorFrameIsALinkEvent) {
  CanFrame error;
  error.at = kJobStart + 2s;
  error.bus = BusName("can0");
  error.kind = FrameKind::error;
  error.length = 8;
  error.id = standard_id(0x40);  // linux/can/error.h, CAN_ERR_BUSOFF
  FlowRun run(JobScript().fluid(40).item(error).items());
  EXPECT_EQ(run.all<WindowEvent>().back().why, "adapter is bus-off");
  error.id = standard_id(0x4);  // CAN_ERR_CRTL: nothing is away
  FlowRun other(JobScript().fluid(40).item(error).items());
  EXPECT_EQ(other.all<WindowEvent>().back().to, WindowState::inside);
}

TEST(Flow, AGapHasTheTimesOfTheReadingsAroundIt) {
  JobScript script;
  script.fluid(40);
  const TimePoint last = script.now();
  script.wait(20s).fluid(41);
  FlowRun run(script.items());
  ASSERT_EQ(run.all<GapEvent>().size(), 1U);
  EXPECT_EQ(run.all<GapEvent>().front().from, last);
  EXPECT_EQ(run.all<GapEvent>().front().to, script.now());
  EXPECT_EQ(run.all<GapEvent>().front().at, script.now());
}

TEST(Flow, TheEndOfACaptureClosesAnOpenGapAndTellsOfOpenTransfers) {
  JobScript script;
  script.fluid(40);
  const TimePoint last = script.now();
  script.wait(20s).frame(standard_id(0x7E8), "100A490201505050").item(End{script.now()});
  FlowRun run(script.items());
  ASSERT_EQ(run.all<GapEvent>().size(), 1U);
  EXPECT_EQ(run.all<GapEvent>().front().from, last);
  EXPECT_EQ(run.all<GapEvent>().front().to, script.now());
  EXPECT_EQ(losses(run), Texts{"transfer unfinished at the end"});
}

TEST(Flow, AClockThatIsSetIsSaidAndChangesNothingElse) {
  JobScript script;
  script.fluid(40).wait(500ms);
  const TimePoint set_at = script.now();
  script.item(ClockStep{set_at, -2h}).wait(500ms).fluid(40).wait(500ms).fluid(41);
  FlowRun run(script.items());
  ASSERT_EQ(run.all<ClockEvent>().size(), 1U);
  EXPECT_EQ(run.all<ClockEvent>().front().at, set_at);
  EXPECT_EQ(run.all<ClockEvent>().front().step, -2h);
  EXPECT_TRUE(run.all<GapEvent>().empty());
  EXPECT_EQ(run.all<WindowEvent>().size(), 1U) << "inside, and still";
  EXPECT_EQ(run.flow().now(), script.now());
}

TEST(Flow, AResumedJobNeedsANewReading) {
  JobScript script;
  script.fluid(40).wait(500ms);
  script.item(Resume{script.now()});
  FlowRun run(script.items());
  EXPECT_EQ(run.all<WindowEvent>().back().why, "program was stopped");
  run.feed(JobScript(std::vector<Item>{}).wait(2s).fluid(40).items());
  EXPECT_EQ(run.all<WindowEvent>().back().to, WindowState::inside);
  EXPECT_EQ(run.all<GapEvent>().back().why, "program was stopped");
}

// --- entries, tables, losses ---

TEST(Flow, ARepeatedEntryIsTheSameEntry) {
  JobScript script;
  for (const auto& [id, name] :
       {std::pair{"e1", "plug_out"}, std::pair{"e1", "plug_out"}, std::pair{"e2", "plug_in"}})
    script.item(Entry{script.now(), id, name, "{}"});
  FlowRun run(script.items());
  ASSERT_EQ(run.all<EntryEvent>().size(), 2U);
  EXPECT_EQ(run.all<EntryEvent>()[1].id, "e2");
}

TEST(Flow, ARowThatIsNoNumberIsALossAndAnEmptyOneNoReading) {
  JobScript script;
  script.item(GivenReading{script.now(), "fluid_temperature", "warm"});
  script.item(GivenReading{script.now(), "fluid_temperature", ""});
  FlowRun run(script.items());
  EXPECT_EQ(losses(run), Texts{"fluid_temperature: 'warm' is not a number"});
  ASSERT_EQ(run.all<ReadingEvent>().size(), 1U);
  EXPECT_FALSE(run.all<ReadingEvent>().front().value);
}

TEST(Flow, WhatWasDroppedOrUnreadableIsALoss) {
  JobScript script;
  script.item(ReceiveDrops{script.now(), BusName("can0"), 7});
  script.item(Unreadable{script.now(), 12, "garbage"});
  script.item(Torn{script.now(), 9});
  const auto all = FlowRun(script.items()).all<LossEvent>();
  ASSERT_EQ(all.size(), 3U);
  EXPECT_EQ(all[0].why, "receive buffer overrun");
  EXPECT_EQ(all[0].frames, 7U);
  EXPECT_EQ(all[1].why, "line 12 cannot be read: garbage");
  EXPECT_EQ(all[2].why, "fragment of 9 bytes at the end of the file");
}

TEST(Flow, ARequestWithoutAnAnswerIsALossOfTheUnitThatWasAsked) {
  JobScript script;
  script.frame(standard_id(0x7E1), "03221A05CCCCCCCC");
  const TimePoint asked = script.now();
  script.wait(5s).item(Advance{script.now()});
  const auto all = FlowRun(script.items()).all<LossEvent>();
  ASSERT_EQ(all.size(), 1U);
  EXPECT_EQ(all[0].why, "request without an answer");
  EXPECT_EQ(all[0].ecu, "7E9");
  EXPECT_EQ(all[0].at, asked + 1s);
  EXPECT_EQ(all[0].frames, 1U);
}

TEST(Flow, ARefusedFluidTemperatureMakesTheWindowUnknown) {
  JobScript script;
  script.fluid(40).wait(500ms).frame(standard_id(0x7E1), "03221A05CCCCCCCC");
  script.frame(standard_id(0x7E9), "037F2222CCCCCCCC");  // ISO 14229-1: conditionsNotCorrect
  FlowRun run(script.items());
  EXPECT_EQ(run.all<WindowEvent>().back().to, WindowState::unknown);
  EXPECT_EQ(run.all<WindowEvent>().back().why, "the unit refuses it (7F code 22)");
}

TEST(Flow, TwoBusesNeverMix) {
  JobScript script;
  script.frame(standard_id(0x7E1), "03221A05CCCCCCCC", BusName("can0"));
  script.frame(standard_id(0x7E9), "04621A0550AAAAAA", BusName("can1"));
  FlowRun run(script.items());
  EXPECT_TRUE(run.all<ReadingEvent>().empty());
  EXPECT_EQ(losses(run), Texts{"answer without a request"});
}

// --- broadcasts and J1939 ---

TEST(Flow, ABroadcastThatADecoderNamesIsAReadingAndARemoteFrameNone) {
  const std::string sound =
      testing::file_text(std::string(SUMPLOG_SOURCE) + "/tests/core/decoder/sound_signals.toml");
  JobScript script(
      {Settings{kJobStart, "job", "program", "", {}}, DecoderText{kJobStart, "my-9/signals.toml", sound}});
  CanFrame remote = data_frame(script.now(), BusName("can0"), standard_id(0x3B2), {});
  remote.kind = FrameKind::remote;
  FlowRun run(script.item(remote).frame(standard_id(0x3B2), "00007D00").items());
  ASSERT_EQ(run.all<ReadingEvent>().size(), 1U);
  EXPECT_EQ(run.all<ReadingEvent>()[0].signal, "x_line_pressure");
  EXPECT_EQ(run.all<ReadingEvent>()[0].value, 1000);
  EXPECT_TRUE(losses(run).empty());
}

TEST(Flow, ActiveCodesThatAreToldAgainAndAgainAreReadWithoutALine) {
  const std::string name = "j1939-transmission/signals.toml";
  std::vector<Item> opening = demo_opening();
  opening.emplace_back(
      DecoderText{kJobStart, name, testing::file_text(std::string(SUMPLOG_SOURCE) + "/decoders/" + name)});
  JobScript script(std::move(opening));
  for (Duration gone{}; gone < 20min; gone += 1s)  // more than the 15 minutes for which they count
    script.frame(extended_id(0x18FEF803), "FFFFFFFFE026FFFF")
        .frame(extended_id(0x18FECA03), "00FF00000000FFFF")
        .wait(1s);
  script.item(Entry{script.now(), "1", "plug_out", "{}"}).wait(10s);
  script.item(Entry{script.now(), "2", "plug_in", "{}"});
  FlowRun run(script.items());
  EXPECT_EQ(run.all<CodesEvent>().size(), 1U);
  const auto verdicts = run.all<VerdictEvent>();
  ASSERT_EQ(verdicts.size(), 1U);
  ASSERT_FALSE(verdicts[0].why.empty()) << "the car was not prepared";
  for (const std::string& why : verdicts[0].why) EXPECT_FALSE(why.starts_with("fault codes")) << why;
}

TEST(Flow, AMessageOfJ1939ThatTheEndOfTheRecordingCutsIsALoss) {
  const std::string text =
      testing::file_text(std::string(SUMPLOG_SOURCE) + "/decoders/j1939-transmission/signals.toml");
  JobScript script({Settings{kJobStart, "job", "program", "", {}},
                    DecoderText{kJobStart, "j1939-transmission/signals.toml", text}});
  script.frame(extended_id(0x1CECFF03), "20090002FFCAFE00");  // SAE J1939-21, BAM: 9 bytes of DM1
  script.frame(extended_id(0x1CEBFF03), "0104FFB100030500");
  FlowRun run(script.items());
  EXPECT_TRUE(losses(run).empty());
  run.feed(End{script.now()});
  EXPECT_EQ(losses(run).size(), 1U);
}

}  // namespace
}  // namespace sumplog
