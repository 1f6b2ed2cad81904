#include <gtest/gtest.h>

#include <algorithm>
#include <chrono>
#include <functional>
#include <set>
#include <string>

#include "core/decoder/folders.h"
#include "core/isotp/frames.h"
#include "core/vehicle/hostile/intruder.h"
#include "core/vehicle/hostile/job.h"
#include "core/vehicle/hostile/line.h"
#include "core/vehicle/hostile/run.h"

// Turns of the hostile bus that few seeds take, one by one.
namespace sumplog::hostile {
namespace {

using namespace std::chrono_literals;

CanFrame frame(CanId id, std::string_view hex, TimePoint at = TimePoint{1s}) {
  return data_frame(at, BusName("can0"), id, isotp_words::bytes(hex));
}

Plan plan_of_one_unit() {
  Plan plan;
  plan.scenario.bus = BusName("can0");
  plan.scenario.lasts = plan.calm_from = 1h;
  UnitPlan unit;
  unit.address.request = standard_id(0x7E1);
  unit.address.response = standard_id(0x7E9);
  plan.scenario.units.push_back(unit);
  return plan;
}

TEST(HostilePlan, HasWordsOfItsOwnForEachAct) {
  std::set<std::string_view> words;
  for (int kind = 0; kind <= static_cast<int>(ActKind::announcements); ++kind) {
    const std::string_view one = text_of(static_cast<ActKind>(kind));
    EXPECT_FALSE(one.empty()) << kind;
    EXPECT_TRUE(words.insert(one).second) << one;
  }
}

TEST(HostilePlan, SaysWhatItIs) {
  Plan plan;
  plan.seed = 7;
  plan.scenario.title = "11-bit identifiers";
  plan.scenario.lasts = plan.calm_from = 300s;
  EXPECT_EQ(text_of(plan), "seed 7: 11-bit identifiers, 300 s");
  plan.lying = true;
  plan.calm_from = 210s;
  plan.acts.push_back({1500ms, ActKind::flood, {}, 0});
  EXPECT_EQ(
      text_of(plan),
      "seed 7: 11-bit identifiers, 300 s, bytes are changed on the way, calm from 210 s; flood at 1.5 s");
}

TEST(HostilePlan, LetsTheSensorFailInSomeWholeServices) {
  int with = 0;
  constexpr int kServices = 20;
  for (std::uint64_t i = 1; i <= kServices; ++i) {
    const Plan plan = make_plan(i * kWholeServiceEvery);
    with +=
        std::any_of(plan.scenario.events.begin(), plan.scenario.events.end(), [](const ScenarioEvent& one) {
          const auto* change = std::get_if<VehicleChange>(&one.change);
          return change != nullptr && std::holds_alternative<SensorChange>(*change);
        });
  }
  EXPECT_GT(with, 0);
  EXPECT_LT(with, kServices);
}

TEST(HostileLine, KnowsPartsOfAMessage) {
  // ISO 15765-2; with mixed addressing the control byte stands behind the address byte
  EXPECT_TRUE(part_of_a_message(frame(standard_id(0x7E8), "100A")));
  EXPECT_TRUE(part_of_a_message(frame(standard_id(0x7E8), "21")));
  EXPECT_FALSE(part_of_a_message(frame(standard_id(0x7E8), "0210")));
  EXPECT_FALSE(part_of_a_message(frame(standard_id(0x7E8), "")));
  EXPECT_TRUE(part_of_a_message(frame(extended_id(0x18CEF133), "0021")));
  EXPECT_FALSE(part_of_a_message(frame(extended_id(0x18CEF133), "2101")));
  EXPECT_FALSE(part_of_a_message(frame(extended_id(0x18CEF133), "21")));
}

TEST(HostileLine, TurnsOnlyClassicDataFramesIntoRemoteFrames) {
  Plan plan = plan_of_one_unit();
  plan.faults.remote = 1'000'000;
  Line line(plan);
  CanFrame fd = frame(standard_id(0x7E9), "0241");
  fd.fd = true;
  line.on_frame(frame(standard_id(0x7E9), "0241"), TimePoint{1s});
  line.on_frame(fd, TimePoint{2s});
  const auto items = line.take(TimePoint{3s});
  ASSERT_EQ(items.size(), 2U);
  EXPECT_EQ(std::get<CanFrame>(items[0]).kind, FrameKind::remote);
  EXPECT_EQ(std::get<CanFrame>(items[1]).kind, FrameKind::data);
}

TEST(HostileIntruder, LeavesActsOfOthersAlone) {
  for (const ActKind kind : {ActKind::link_down, ActKind::link_gone, ActKind::bus_off, ActKind::error_passive,
                             ActKind::error_frames, ActKind::clock_step, ActKind::restart}) {
    Intruder intruder(plan_of_one_unit());
    intruder.begin({0s, kind, 10s, 3}, TimePoint{1s});
    intruder.on_frame(frame(standard_id(0x7DF), "02010C0000000000"));
    EXPECT_FALSE(intruder.deadline()) << text_of(kind);
  }
}

TEST(HostileIntruder, AnswersOnlyWholeRequests) {
  // `pending_for_ever` says 0x78 up to five times: of twenty requests at least one is answered.
  const auto answers = [](CanId id, std::string_view request) {
    Intruder intruder(plan_of_one_unit());
    intruder.begin({0s, ActKind::pending_for_ever, 10s, 3}, TimePoint{1s});
    for (int i = 0; i < 20; ++i) intruder.on_frame(frame(id, request));
    return intruder.deadline().has_value();
  };
  EXPECT_TRUE(answers(standard_id(0x7DF), "02010C"));
  EXPECT_TRUE(answers(standard_id(0x7E0), "02010C"));
  EXPECT_TRUE(answers(standard_id(0x7E7), "02010C"));
  EXPECT_FALSE(answers(standard_id(0x7E0), "0001"));    // of nothing
  EXPECT_FALSE(answers(standard_id(0x7E0), "0301"));    // cut
  EXPECT_FALSE(answers(standard_id(0x7E0), "0201"));    // by one byte
  EXPECT_FALSE(answers(standard_id(0x7E8), "02010C"));  // nobody asks there
  EXPECT_FALSE(answers(standard_id(0x7DE), "02010C"));  // nor there
  EXPECT_FALSE(answers(extended_id(0x7E0), "02010C"));  // nor there
}

TEST(HostileJob, EndsAtTheFirstItemThatCannotBeWritten) {
  const auto link = [](LinkState state) {
    return [state](const Item& item) {
      const auto* one = std::get_if<LinkEvent>(&item);
      return one != nullptr && one->state == state;
    };
  };
  const auto of_kind = [](FrameKind kind) {
    return [kind](const Item& item) {
      const auto* one = std::get_if<CanFrame>(&item);
      return one != nullptr && one->kind == kind;
    };
  };
  struct Case {
    std::string_view name;
    ActKind act;
    std::uint64_t seed;
    std::function<bool(const Item&)> fails;
  };
  const std::vector<Case> cases{
      {"the link goes", ActKind::link_down, 0, link(LinkState::down)},
      {"the link is back", ActKind::link_down, 0, link(LinkState::up)},
      {"the error frame before the link", ActKind::bus_off, 0, of_kind(FrameKind::error)},
      {"the link before the error frame", ActKind::bus_off, 1, link(LinkState::bus_off)},
      {"an error frame", ActKind::error_frames, 0, of_kind(FrameKind::error)},
      {"a frame that is heard", ActKind::error_passive, 0, of_kind(FrameKind::data)},
      {"what the core has to say", ActKind::other_tester, 0,
       [](const Item& item) { return std::holds_alternative<OtherTester>(item); }}};
  std::vector<DecoderText> texts;
  for (const char* const name : {"obd-generic/signals.toml", "demo-9/signals.toml", "demo-9/service.toml"})
    texts.push_back({{}, name, testing::file_text(std::string(SUMPLOG_SOURCE "/decoders/") + name)});
  for (const Case& one : cases) {
    Plan plan;
    for (std::uint64_t seed = 1; plan.scenario.units.empty() || plan.scenario.extended_ids; ++seed)
      plan = make_plan(seed);
    plan.faults = {};
    plan.acts = {{8s, one.act, 3s, one.seed}};
    plan.scenario.lasts = 15s;
    plan.scenario.events.clear();
    bool failed = false;
    int after = 0;
    Job job(plan, opening_of(plan, texts), [&](const Item& item) -> Result<Item> {
      after += failed ? 1 : 0;
      if (!one.fails(item)) return item;
      failed = true;
      return fault("the disk is full");
    });
    const auto done = job.run();
    ASSERT_TRUE(failed) << one.name;
    EXPECT_FALSE(done) << one.name;
    EXPECT_EQ(after, 0) << one.name;
  }
}

TEST(HostileJob, ThatCannotBeRunIsAFinding) {
  // An item of more than 4 MiB does not read back (docs/job_file.md).
  const Outcome outcome = run_seed(1, {{{}, "demo-9/signals.toml", std::string(std::size_t{5} << 20, '#')}});
  ASSERT_TRUE(outcome.finding);
  EXPECT_EQ(outcome.finding->rule, "the job runs to its end");
  EXPECT_NE(outcome.finding->what.find("4 MiB"), std::string::npos) << outcome.finding->what;
}

}  // namespace
}  // namespace sumplog::hostile
