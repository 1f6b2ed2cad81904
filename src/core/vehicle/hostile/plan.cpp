#include "core/vehicle/hostile/plan.h"

#include <algorithm>
#include <array>
#include <chrono>

#include "core/item/json_line.h"
#include "core/vehicle/hostile/service_script.h"
#include "core/vehicle/random.h"

namespace sumplog::hostile {
namespace {

using namespace std::chrono_literals;

// Everything in this file is invented: how bad the bus is, and how often.
constexpr TimePoint kStart = at_micros(1700000000000000);
constexpr std::uint64_t kShortest_s = 180;
constexpr std::uint64_t kLongest_s = 600;
constexpr Duration kCalm = 90s;  // longer than any back-off and any "pending" that is put up with
constexpr std::uint64_t kMostActs = 14;
constexpr std::uint64_t kActEvery_s = 60;  // in a whole service

bool chance(Random& random, unsigned percent) {
  return random.below(100) < percent;
}

Duration between(Random& random, Duration low, Duration high) {
  return low + Duration{static_cast<Duration::rep>(
                   random.below(static_cast<std::uint64_t>((high - low).count()) + 1))};
}

/// Out of a million: mostly never, now and then, or often.
std::uint32_t rate(Random& random, std::uint32_t most) {
  switch (random.below(4)) {
    case 0: return 0;
    case 1: return static_cast<std::uint32_t>(random.below(most / 20 + 1));
    case 2: return static_cast<std::uint32_t>(random.below(most / 4 + 1));
    default: return static_cast<std::uint32_t>(random.below(most + 1));
  }
}

FrameFaults make_faults(Random& random, bool lying) {
  FrameFaults faults;
  if (chance(random, 15)) return faults;  // the acts alone are hostile then
  // On a bus that loses every fifth frame nothing is ever allowed: half of the plans are milder than that.
  const std::uint32_t mild = chance(random, 50) ? 20 : 1;
  faults.lost = rate(random, 200'000 / mild);
  faults.overrun = rate(random, 60'000 / mild);
  faults.doubled = rate(random, 100'000 / mild);
  faults.late = rate(random, 100'000 / mild);
  faults.stall = rate(random, 20'000 / mild);
  faults.cut = rate(random, 50'000 / mild);
  faults.remote = rate(random, 30'000 / mild);
  faults.misplaced = rate(random, 40'000 / mild);
  faults.early = rate(random, 100'000 / mild);
  faults.not_sent = rate(random, 150'000 / mild);
  faults.vanished = rate(random, 100'000 / mild);
  faults.held = rate(random, 80'000 / mild);
  faults.unheard = rate(random, 100'000 / mild);
  if (lying) faults.corrupt = 1'000 + rate(random, 150'000 / mild);
  return faults;
}

constexpr std::array kEveryKind{
    ActKind::link_down,     ActKind::link_gone,  ActKind::bus_off,        ActKind::error_passive,
    ActKind::error_frames,  ActKind::clock_step, ActKind::flood,          ActKind::giants,
    ActKind::strays,        ActKind::odd_frames, ActKind::remote_frames,  ActKind::ghosts,
    ActKind::other_tester,  ActKind::restart,    ActKind::many_transfers, ActKind::pending_for_ever,
    ActKind::announcements,
};

Duration length_of(Random& random, ActKind kind) {
  switch (kind) {
    case ActKind::link_down:
    case ActKind::link_gone:
    case ActKind::bus_off: return between(random, 5ms, 20s);
    case ActKind::ghosts: return between(random, 1s, 60s);
    case ActKind::pending_for_ever: return between(random, 1s, 90s);
    case ActKind::other_tester: return between(random, 100ms, 30s);
    case ActKind::error_passive:
    case ActKind::error_frames:
    case ActKind::clock_step:
    case ActKind::restart:
    case ActKind::flood:
    case ActKind::giants:
    case ActKind::strays:
    case ActKind::odd_frames:
    case ActKind::remote_frames:
    case ActKind::many_transfers:
    case ActKind::announcements: break;
  }
  return {};
}

void add_acts(Plan& plan, Random& random, std::uint64_t count) {
  const Duration until = plan.calm_from;
  for (std::uint64_t i = 0; i < count; ++i) {
    Act act;
    act.at = between(random, 0s, until);
    act.kind = kEveryKind.at(random.below(kEveryKind.size()));
    act.lasts = std::min(length_of(random, act.kind), until - act.at);
    act.seed = random.next();
    plan.acts.push_back(act);
  }
  std::stable_sort(plan.acts.begin(), plan.acts.end(),
                   [](const Act& a, const Act& b) { return a.at < b.at; });
}

/// What happens to the units, beside what the service asks of the vehicle.
void add_unit_trouble(Plan& plan, Random& random) {
  Scenario& scenario = plan.scenario;
  if (scenario.units.empty()) return;
  const auto add = [&](Duration at, std::size_t unit, auto change) {
    scenario.events.push_back({at, UnitChange{unit, change}});
  };
  const std::uint64_t count = random.below(8);
  for (std::uint64_t i = 0; i < count; ++i) {
    const Duration at = between(random, 1s, plan.calm_from);
    const std::size_t unit = random.below(scenario.units.size());
    const auto service = static_cast<std::uint8_t>(std::array{0x01, 0x09, 0x22}.at(random.below(3)));
    switch (random.below(4)) {
      case 0: add(at, unit, ResetChange{between(random, 10ms, 4s)}); break;
      case 1:
        add(at, unit, SilenceChange{true});
        add(std::min(at + between(random, 100ms, 20s), plan.calm_from), unit, SilenceChange{false});
        break;
      case 2: {
        const int times = 1 + static_cast<int>(random.below(chance(random, 20) ? 200 : 8));
        add(at, unit, PendingAnswers{service, times, between(random, 20ms, 4s)});
        break;
      }
      default: add(at, unit, LostConsecutive{service, 1 + static_cast<int>(random.below(3))});
    }
    // Where it asked for time without end, it starts anew when the calm begins.
    add(plan.calm_from, unit, ResetChange{10ms});
  }
}

}  // namespace

Plan make_plan(std::uint64_t seed) {
  Random random(Random::at(0x686F7374696C65, seed));  // "hostile": other streams than those of the scenarios
  Plan plan;
  plan.seed = seed;
  plan.lying = chance(random, 30);
  const bool service = seed % kWholeServiceEvery == 0;
  Scenario& scenario = plan.scenario;
  scenario.seed = random.next();
  scenario.start = kStart + Duration{static_cast<Duration::rep>(random.below(1'000'000'000))};
  scenario.lasts = std::chrono::seconds{kShortest_s + random.below(kLongest_s - kShortest_s + 1)};
  make_vehicle(scenario, random, service);
  const bool calm = chance(random, 60);
  plan.calm_from = calm ? scenario.lasts - kCalm : scenario.lasts;
  plan.faults = make_faults(random, plan.lying);
  add_unit_trouble(plan, random);
  const auto minutes = static_cast<std::uint64_t>(scenario.lasts / 1min);
  add_acts(plan, random, service ? minutes * 60 / kActEvery_s : random.below(kMostActs + 1));
  std::stable_sort(scenario.events.begin(), scenario.events.end(),
                   [](const ScenarioEvent& a, const ScenarioEvent& b) { return a.at < b.at; });
  return plan;
}

std::string text_of(const Plan& plan) {
  std::string text = "seed " + std::to_string(plan.seed) + ": " + plan.scenario.title + ", " +
                     fixed(in_seconds(plan.scenario.lasts), 0) + " s";
  if (plan.lying) text += ", bytes are changed on the way";
  if (plan.calm_from < plan.scenario.lasts)
    text += ", calm from " + fixed(in_seconds(plan.calm_from), 0) + " s";
  for (const Act& act : plan.acts)
    text += "; " + std::string(text_of(act.kind)) + " at " + fixed(in_seconds(act.at), 1) + " s";
  return text;
}

std::string_view text_of(ActKind kind) {
  switch (kind) {
    case ActKind::link_down: return "link down";
    case ActKind::link_gone: return "adapter gone";
    case ActKind::bus_off: return "bus-off";
    case ActKind::error_passive: return "error-passive";
    case ActKind::error_frames: return "error frames";
    case ActKind::clock_step: return "clock step";
    case ActKind::restart: return "program stopped and resumed";
    case ActKind::flood: return "flood";
    case ActKind::giants: return "first frames of up to 4 GB";
    case ActKind::strays: return "consecutive frames without a first";
    case ActKind::odd_frames: return "reserved frames";
    case ActKind::remote_frames: return "remote frames";
    case ActKind::ghosts: return "answers of units that are not there";
    case ActKind::pending_for_ever: return "endless 0x78";
    case ActKind::other_tester: return "another tester";
    case ActKind::many_transfers: return "many transfers at once";
    case ActKind::announcements: return "J1939 announcements";
  }
  return "";
}

}  // namespace sumplog::hostile
