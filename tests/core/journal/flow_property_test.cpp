#include <random>

#include "core/journal/flow_run.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;
using testing::FlowRun;
using testing::JobScript;

const BusName kCan0("can0");
const BusName kCan1("can1");

/// A job as bad as a bus can make it: the fluid wanders through the window, answers fail in every way.
class HostileJob {
 public:
  explicit HostileJob(std::uint32_t seed) : random_(seed) {}

  std::vector<Item> items(int steps) {
    JobScript script;
    double fluid = 33;
    for (int i = 0; i < steps; ++i) {
      fluid += std::uniform_real_distribution<double>(-0.6, 0.7)(random_);
      if (fluid > 52) fluid = 28;
      step(script, static_cast<int>(fluid));
      // Mostly twice a second, sometimes within microseconds of the three seconds that a reading lives.
      switch (number(0, 9)) {
        case 0: script.wait(Duration{number(0, 50)}); break;
        case 1: script.wait(3s + Duration{number(-2, 2)} - 5ms); break;
        case 2: script.wait(std::chrono::milliseconds{number(0, 9000)}); break;
        default: script.wait(std::chrono::milliseconds{number(300, 700)}); break;
      }
      if (number(0, 40) == 0) script.wait(-2s);
    }
    return script.item(End{script.now()}).items();
  }

 private:
  void step(JobScript& script, int fluid) {
    const CanId ask_engine = standard_id(0x7E0);
    const CanId engine = standard_id(0x7E8);
    const CanId ask_transmission = standard_id(0x7E1);
    const CanId transmission = standard_id(0x7E9);
    switch (number(0, 24)) {
      case 0: script.fluid_raw(0xFF); break;
      case 1: script.fluid_raw(0xFE); break;
      case 2: {
        const BusName bus = number(0, 2) == 0 ? kCan1 : kCan0;
        script.item(LinkEvent{script.now(), bus, static_cast<LinkState>(number(0, 4))});
        break;
      }
      case 3: script.item(Resume{script.now()}); break;
      case 4: script.frame(ask_transmission, "03221A05CCCCCCCC"); break;
      case 5: script.frame(transmission, "04621A0550AAAAAA"); break;
      case 6: script.fluid_raw(fluid + 40, kCan1); break;
      case 7:
        script.frame(ask_transmission, "03221A05CCCCCCCC").frame(transmission, "037F227800000000");
        break;
      case 8: script.frame(standard_id(0x7DF), "02010CCCCCCCCCCC").frame(engine, "04410C0AF0AAAAAA"); break;
      case 9: script.frame(engine, "100A490201505050"); break;
      case 10: script.frame(engine, "21505050505050"); break;
      case 11:
        script.item(Entry{script.now(), std::to_string(number(0, 9)), "selector_cycle_done", "{}"});
        break;
      case 12:
        script.frame(ask_transmission, "03221A06CCCCCCCC").frame(transmission, "04621A0600AAAAAA");
        break;
      case 13: script.frame(ask_engine, "02010DCCCCCCCCCC").frame(engine, "03410D00AAAAAAAA"); break;
      default: script.fluid(fluid); break;
    }
  }
  int number(int low, int high) { return std::uniform_int_distribution<int>(low, high)(random_); }

  std::mt19937 random_;
};

// --- replay ---

/// The same items with an `advance` at each deadline, as a live job records them; each comes late by `lag`.
std::vector<std::string> live_journal(const std::vector<Item>& items, Duration lag) {
  FlowRun run;
  for (const Item& item : items) {
    while (const auto due = run.flow().deadline()) {
      const TimePoint at = *due + lag;
      if (at > time_of(item)) break;
      run.feed(Advance{at});
    }
    run.feed(item);
  }
  return run.lines();
}

TEST(FlowProperty, ReplayWithoutTheLiveDeadlinesGivesTheSameJournal) {
  for (std::uint32_t seed = 1; seed <= 20; ++seed) {
    const auto items = HostileJob(seed).items(300);
    const auto replayed = FlowRun(items).lines();
    ASSERT_GT(replayed.size(), 300U);
    for (const Duration lag : {Duration{0us}, Duration{1us}, Duration{137ms}})
      ASSERT_EQ(live_journal(items, lag), replayed) << "seed " << seed << " lag " << lag.count();
  }
}

TEST(FlowProperty, TheSameItemsGiveTheSameJournalTwice) {
  const auto items = HostileJob(99).items(500);
  EXPECT_EQ(FlowRun(items).lines(), FlowRun(items).lines());
}

// --- inside ---

/// Follows a journal and says when `inside` stands without a reading that allows it.
class InsideWatch {
 public:
  void on_event(const Event& event) {
    std::visit([&](const auto& e) { on(e); }, event);
  }
  /// Nothing more happened up to `at`: what stands must hold until there.
  void until(TimePoint at) const {
    if (state_ != WindowState::inside) return;
    ASSERT_TRUE(answered_at_);
    ASSERT_LE((at - *answered_at_).count(), Duration(3s).count()) << "stale";
    ASSERT_TRUE(value_) << "the newest answer had no value";
    ASSERT_GE(*value_, 35);
    ASSERT_LE(*value_, 45);
    ASSERT_FALSE(away_) << "no reading since the bus was away";
  }
  void on_item(const Item& item) {
    const auto* link = std::get_if<LinkEvent>(&item);
    const bool lost =
        link != nullptr && link->state != LinkState::up && link->state != LinkState::error_passive;
    if ((lost && bus_ && link->bus == *bus_) || std::holds_alternative<Resume>(item)) away_ = true;
  }
  int inside = 0;

 private:
  void on(const ReadingEvent& r) {
    if (r.signal != "fluid_temperature") return;
    if (!bus_ && r.value) bus_ = r.bus;
    if (bus_ && r.bus != *bus_) return;
    value_ = r.value;
    if (!r.value) return;
    answered_at_ = r.at;
    away_ = false;
  }
  void on(const WindowEvent& w) {
    ASSERT_EQ(w.from, state_);
    state_ = w.to;
    if (state_ == WindowState::inside) ++inside;
    ASSERT_EQ(w.temp_c.has_value(), state_ != WindowState::unknown);
  }
  void on(const ThermalEvent& t) {
    if (t.window == WindowState::unknown) {
      ASSERT_FALSE(t.temp_c || t.rate_c_per_min || t.enter_in_s || t.stay_s);
      ASSERT_FALSE(t.why.empty());
    } else {
      ASSERT_TRUE(t.temp_c);
    }
  }
  void on(const CheckEvent& c) {
    if (c.state == CheckState::may_start) {
      ASSERT_EQ(state_, WindowState::inside);
    }
  }
  template <class E>
  void on(const E&) {}

  WindowState state_ = WindowState::unknown;
  std::optional<TimePoint> answered_at_;
  std::optional<double> value_;
  std::optional<BusName> bus_;
  bool away_ = false;
};

TEST(FlowProperty, InsideNeverStandsWithoutAFreshValidReadingInside) {
  int inside = 0;
  for (std::uint32_t seed = 1; seed <= 60; ++seed) {
    FlowRun run;
    InsideWatch watch;
    TimePoint now = TimePoint::min();
    for (const Item& item : HostileJob(seed).items(400)) {
      run.feed(item);
      // Deadlines that fired before the item come first, each at its own time; the item's own events last.
      for (const Event& event : run.out().events) {
        const TimePoint at = std::visit([](const auto& e) { return e.at; }, event);
        if (at > now) watch.until(at - 1us);
        now = std::max(now, at);
        watch.on_event(event);
        ASSERT_FALSE(::testing::Test::HasFatalFailure()) << "seed " << seed;
      }
      watch.on_item(item);
      now = std::max(now, run.flow().now());
      watch.until(now);
      ASSERT_FALSE(::testing::Test::HasFatalFailure()) << "seed " << seed;
    }
    inside += watch.inside;
  }
  EXPECT_GT(inside, 500) << "or the property was hardly tried";
}

// --- losses ---

TEST(FlowProperty, EveryQuestionIsAccountedForAndEveryTransferEnds) {
  for (std::uint32_t seed = 1; seed <= 20; ++seed) {
    const auto items = HostileJob(seed).items(300);
    FlowRun run(items);
    run.feed(Advance{run.flow().now() + 60s});
    std::size_t requests = 0;
    std::size_t first_frames = 0;
    for (const Item& item : items) {
      const auto* frame = std::get_if<CanFrame>(&item);
      if (frame == nullptr) continue;
      if (frame->id.value <= 0x7E1) ++requests;
      if (frame->bytes[0] == 0x10) ++first_frames;
    }
    // A functional request may have several exchanges; each other one has exactly one.
    EXPECT_GE(run.exchanges().size(), requests);
    // No first frame of the script is ever completed by its two consecutive frames.
    std::size_t lost_transfers = 0;
    for (const LossEvent& loss : run.all<LossEvent>())
      if (loss.why.starts_with("transfer ") || loss.why == "consecutive frame out of order") ++lost_transfers;
    std::size_t completed = 0;
    for (const Exchange& e : run.exchanges())
      if (e.asked.front() == 0x09) ++completed;
    std::size_t unasked = 0;
    for (const LossEvent& loss : run.all<LossEvent>())
      if (loss.why == "answer without a request" && loss.ecu == "7E8") ++unasked;
    EXPECT_GE(lost_transfers + completed + unasked, first_frames) << "seed " << seed;
    EXPECT_FALSE(run.flow().deadline()) << "nothing waits for ever";
  }
}

}  // namespace
}  // namespace sumplog
