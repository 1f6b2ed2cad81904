#include <gtest/gtest.h>

#include "core/asker/live_job.h"
#include "core/isotp/frames.h"
#include "core/job/job_settings.h"
#include "core/journal/flow_run.h"

namespace sumplog::testing {
namespace {

using namespace std::chrono_literals;

/// A job whose recorder takes nothing while `full`, as the loop of a served job meets it.
struct FullRecorder {
  FullRecorder() {
    for (const Item& item : demo_opening()) job.on_written(item, journal);
  }
  /// out  how often the job asked for something to be recorded until `end`
  int run_until(TimePoint end) {
    int asked = 0;
    for (int turns = 0; turns < 10'000; ++turns) {
      const auto due = job.deadline();
      if (!due || *due > end) break;
      now = std::max(now, *due);
      LiveOutput step;
      job.on_time(now, step);
      for (const Item& item : step.record) {
        ++asked;
        if (full)
          EXPECT_TRUE(job.on_refused(item, now));
        else
          job.on_written(item, journal);
      }
    }
    now = end;
    return asked;
  }
  [[nodiscard]] std::vector<WindowEvent> windows() const {
    std::vector<WindowEvent> found;
    for (const Event& event : journal.events)
      if (const auto* one = std::get_if<WindowEvent>(&event)) found.push_back(*one);
    return found;
  }

  LiveJob job{decoders_of(demo_opening()), BusName("can0"), kJobStart};
  TimePoint now = kJobStart;
  bool full = false;
  LiveOutput journal;
};

TEST(RefusedItems, AWindowEndsThoughTheRecorderHadNoRoomWhenItsReadingGrewOld) {
  FullRecorder run;
  const BusName bus("can0");
  for (int i = 0; i < 120; ++i) {
    run.now += 500ms;
    const TimePoint at = run.now;
    run.job.on_written(data_frame(at, bus, standard_id(0x7E1), std::array<std::uint8_t, 8>{3, 0x22, 0x1A, 5}),
                       run.journal);
    run.job.on_written(
        data_frame(at + 10ms, bus, standard_id(0x7E9), std::array<std::uint8_t, 8>{4, 0x62, 0x1A, 5, 0x50}),
        run.journal);
  }
  ASSERT_FALSE(run.windows().empty());
  ASSERT_EQ(run.windows().back().to, WindowState::inside);
  run.full = true;
  const int asked = run.run_until(run.now + 5s);
  EXPECT_GE(asked, 10) << "it must go on asking";
  EXPECT_LE(asked, 60) << "not in a loop";
  ASSERT_EQ(run.windows().back().to, WindowState::inside);
  run.full = false;
  run.run_until(run.now + 1s);  // no item comes: the plug is pulled
  EXPECT_EQ(run.windows().back().to, WindowState::unknown);
}

TEST(RefusedItems, AScanThatIsWantedSinceOutranksTheOneWhoseMarkWasRefused) {
  FullRecorder run;
  const auto mark_at = [&](TimePoint at) {
    LiveOutput out;
    run.job.on_time(at, out);
    for (const Item& item : out.record)
      if (const auto* mark = std::get_if<ScanMark>(&item)) return std::optional(*mark);
    return std::optional<ScanMark>{};
  };
  run.job.want_scan("before");
  const auto before = mark_at(run.now);
  ASSERT_TRUE(before);
  run.job.want_scan("after");
  EXPECT_TRUE(run.job.on_refused(*before, run.now));
  const auto next = mark_at(run.now + 200ms);
  ASSERT_TRUE(next);
  EXPECT_EQ(next->scan, "after");
}

TEST(RefusedItems, AScanWhoseMarksWereRefusedBeginsAndEndsWhenThereIsRoom) {
  FullRecorder run;
  run.job.want_scan("before");
  run.full = true;
  run.run_until(run.now + 1s);
  EXPECT_FALSE(run.job.finished());
  run.full = false;
  std::vector<ScanMark> marks;
  run.now += 200ms;
  LiveOutput step;
  run.job.on_time(run.now, step);
  for (const Item& item : step.record) {
    if (const auto* mark = std::get_if<ScanMark>(&item)) marks.push_back(*mark);
    run.job.on_written(item, run.journal);
  }
  ASSERT_EQ(marks.size(), 1U);
  EXPECT_TRUE(marks[0].begun);
  EXPECT_EQ(marks[0].scan, "before");
  // Nobody answers; the first mark of the end is refused.
  int refused = 0;
  std::optional<ScanMark> end;
  for (TimePoint limit = run.now + 60s; run.now < limit && !end; run.now += 20ms) {
    LiveOutput out;
    run.job.on_time(run.now, out);
    for (const Item& item : out.record) {
      const auto* mark = std::get_if<ScanMark>(&item);
      if (mark != nullptr && refused++ == 0) {
        EXPECT_TRUE(run.job.on_refused(item, run.now));
        continue;
      }
      if (mark != nullptr) end = *mark;
      run.job.on_written(item, run.journal);
    }
    for (const GuardedFrame& sent : out.send) {
      CanFrame echo = sent.frame();
      echo.at = run.now;
      run.job.on_written(echo, run.journal);
    }
  }
  ASSERT_TRUE(end);
  EXPECT_FALSE(end->begun);
}

TEST(RefusedItems, SaysOfWhatIsRefusedWhetherItIsLost) {
  FullRecorder run;
  EXPECT_FALSE(run.job.on_refused(Entry{run.now, "1", "note", "{}"}, run.now));
  EXPECT_TRUE(run.job.on_refused(OtherTester{run.now, BusName("can0"), standard_id(0x7E1)}, run.now));
}

}  // namespace
}  // namespace sumplog::testing
