#include <gtest/gtest.h>

#include <chrono>
#include <string>
#include <vector>

#include "core/item/json_line.h"
#include "core/vehicle/hostile/rules.h"

namespace sumplog::hostile {
namespace {

using namespace std::chrono_literals;

constexpr char kInside[] = "no inside without a fresh valid reading";
constexpr char kCheck[] = "the check may start only when everything is seen";
constexpr char kOrder[] = "the journal is in order";

/// A journal written by hand: what the judge says of the window needs nothing else.
class Journal {
 public:
  Journal& say(Duration at, const std::string& rest) {
    trace_.journal.push_back(R"({"t":)" + fixed(in_seconds(at), 6) + "," + rest + "}");
    trace_.said_at.push_back(TimePoint{at});
    return *this;
  }
  Journal& read(Duration at, const std::string& signal, const std::string& value,
                const std::string& quality = "measured") {
    return say(at, R"("kind":"reading","bus":"can0","signal":")" + signal + R"(","value":)" + value +
                       R"(,"label":"P","ecu":"7E9","quality":")" + quality + '"');
  }
  Journal& window(Duration at, const std::string& from, const std::string& to) {
    return say(at, R"("kind":"window","from":")" + from + R"(","to":")" + to + '"');
  }
  Journal& may_start(Duration at) { return say(at, R"("kind":"check","state":"may start")"); }
  /// Idles once a second.
  Journal& idle(Duration from, Duration to) {
    for (Duration at = from; at <= to; at += 1s) read(at, "engine_speed", "700");
    return *this;
  }
  Journal& item(Item one) {
    trace_.items.push_back(std::move(one));
    return *this;
  }
  [[nodiscard]] std::string judged() const {
    const auto finding = judge_window({}, trace_);
    return finding ? finding->rule + ": " + finding->what : "";
  }

 private:
  Trace trace_;
};

/// Everything that a permission needs but the engine's time: fluid 40 °C, standing, P; and the permission.
Journal allowed_after(Journal journal, Duration at = 60s) {
  return journal.read(at, "fluid_temperature", "40")
      .read(at, "vehicle_speed", "0")
      .read(at, "selector_position", "0")
      .window(at, "unknown", "inside")
      .may_start(at);
}
Journal allowed() {
  return allowed_after(Journal().idle(0s, 60s));
}

TEST(WindowRules, HoldOnAPermissionThatIsEarned) {
  EXPECT_EQ(allowed().judged(), "");
  EXPECT_EQ(allowed().say(63s, R"("kind":"note")").judged(), "");  // all is three seconds old, not older
}

TEST(WindowRules, SayWhatIsWrong) {
  const auto idle = [] { return Journal().idle(0s, 60s); };
  const auto fluid = [](const std::string& value, const std::string& quality = "measured") {
    return Journal().read(1s, "fluid_temperature", value, quality);
  };
  struct Case {
    Journal journal;
    std::string rule;
    std::string words;
  };
  const auto with = [](Journal journal, bool speed, bool selector) {
    journal.read(60s, "fluid_temperature", "40");
    if (speed) journal.read(60s, "vehicle_speed", "0");
    if (selector) journal.read(60s, "selector_position", "0");
    return journal.window(60s, "unknown", "inside").may_start(60s);
  };
  const std::string selector_in_r =
      R"("kind":"reading","bus":"can0","signal":"selector_position","value":1,"label":"R","ecu":"7E9","quality":"measured")";
  const auto last_idle = [&](const std::string& rpm) {
    return allowed_after(Journal().idle(0s, 59s).read(60s, "engine_speed", rpm));
  };
  const std::vector<Case> cases{
      {Journal().idle(2s, 2s).idle(1s, 1s), kOrder, "the journal goes back in time"},
      {fluid("40").window(1s, "below", "inside"), kOrder, "the window was not 'below' before"},
      {fluid("40").window(1s, "unknown", "inside").say(4s + 2us, R"("kind":"note")"), kInside,
       "inside was still said"},
      {fluid("46").window(1s, "unknown", "inside"), kInside, "the reading itself is not"},
      {fluid("34").window(1s, "unknown", "inside"), kInside, "the reading itself is not"},
      {fluid("40", "substitute").window(1s, "unknown", "inside"), kInside,
       "inside is said without a fresh valid reading"},
      {fluid("40").say(1s, R"("kind":"thermal","window":"inside")"), kInside,
       "a thermal line says inside, the window does not"},
      {Journal().say(1s, R"("kind":"thermal","window":"inside")"), kInside,
       "inside is said without a fresh valid reading"},
      {Journal().say(1s, R"("kind":"thermal","window":"unknown","temp_c":40)"),
       "a temperature only with a live reading", "a temperature is said without a live reading"},
      {allowed()
           .idle(61s, 63s)
           .read(63s, "fluid_temperature", "40")
           .read(63s, "vehicle_speed", "0")
           .say(63s + 2us, R"("kind":"note")"),
       kCheck, "nothing fresh was known of selector_position"},
      {allowed()
           .idle(61s, 63s)
           .read(63s, "fluid_temperature", "40")
           .read(63s, "selector_position", "0")
           .say(63s + 2us, R"("kind":"note")"),
       kCheck, "nothing fresh was known of vehicle_speed"},
      {allowed()
           .read(63s, "fluid_temperature", "40")
           .read(63s, "vehicle_speed", "0")
           .read(63s, "selector_position", "0")
           .say(63s + 2us, R"("kind":"note")"),
       kCheck, "nothing fresh was known of engine_speed"},
      {idle().read(60s, "fluid_temperature", "40").may_start(60s), kCheck, "outside the window"},
      {with(Journal(), true, true), kCheck, "the engine is not seen to idle"},
      {last_idle("599"), kCheck, "the engine is not seen to idle"},
      {last_idle("901"), kCheck, "the engine is not seen to idle"},
      {last_idle("349"), kCheck, "the engine is not seen to idle"},
      {with(idle(), false, true), kCheck, "the vehicle is not seen to stand"},
      {with(idle().read(60s, "vehicle_speed", "3"), false, true), kCheck, "the vehicle is not seen to stand"},
      {with(idle(), true, false), kCheck, "the selector is not seen in P"},
      {with(idle().say(60s, selector_in_r), true, false), kCheck, "the selector is not seen in P"},
      {allowed_after(Journal().idle(1s, 60s)), kCheck, "before the settling time has passed"},
      // The engine was not seen for more than three seconds: it may have been off.
      {allowed_after(Journal().idle(0s, 30s).idle(34s, 60s)), kCheck, "before the settling time has passed"},
      {allowed_after(Journal().idle(0s, 60s).item(Resume{TimePoint{30s}})), kCheck,
       "before the settling time has passed"},
      {fluid("40")
           .window(1s, "unknown", "inside")
           .item(LinkEvent{TimePoint{2s}, {}, LinkState::bus_off})
           .say(3s, R"("kind":"note")"),
       kInside, "inside was still said"}};
  for (const Case& one : cases) {
    EXPECT_TRUE(one.journal.judged().starts_with(one.rule)) << one.words << "\n" << one.journal.judged();
    EXPECT_NE(one.journal.judged().find(one.words), std::string::npos) << one.words << "\n"
                                                                       << one.journal.judged();
  }
}

TEST(WindowRules, OneAnswerWithoutAValueDoesNotBeginTheSettlingTimeAgain) {
  EXPECT_EQ(allowed_after(
                Journal().idle(0s, 30s).read(30s + 500ms, "engine_speed", "0", "substitute").idle(31s, 60s))
                .judged(),
            "");
}

// `judge_calm`: 80 seconds of the calm are given to come back.
std::string judged_calm(Duration last_reading) {
  Plan plan;
  plan.scenario.lasts = 300s;
  plan.calm_from = 200s;
  plan.scenario.start = TimePoint{};
  Trace trace;
  if (last_reading >= 0s)
    trace.journal.push_back(R"({"t":)" + fixed(in_seconds(last_reading), 6) +
                            R"(,"kind":"reading","signal":"fluid_temperature"})");
  const auto finding = judge_calm(plan, trace);
  return finding ? finding->rule : "";
}

TEST(WindowRules, AskForTheFluidTemperatureNearTheEndOfTheCalm) {
  EXPECT_EQ(judged_calm(280s), "");
  EXPECT_EQ(judged_calm(279s), "the job goes on");  // in the calm, and not to its end
  EXPECT_EQ(judged_calm(199s), "the job goes on");
  EXPECT_EQ(judged_calm(-1s), "the job goes on");  // an empty journal
}

}  // namespace
}  // namespace sumplog::hostile
