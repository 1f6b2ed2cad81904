#include <chrono>
#include <iostream>
#include <thread>

#include "app/commands.h"
#include "app/job_opening.h"
#include "app/journal_printer.h"
#include "app/recording.h"

namespace sumplog {
namespace {

/// Waits so that items pass at `speed` times the pace at which they were recorded.
class Pace {
 public:
  explicit Pace(double speed) : speed_(speed) {}
  [[nodiscard]] bool waits() const { return speed_ > 0; }
  void wait_for(TimePoint at) {
    if (!waits()) return;
    const auto now = std::chrono::steady_clock::now();
    if (!started_) {
      started_ = true;
      first_ = at;
      began_ = now;
    }
    const double due_s = in_seconds(at - first_) / speed_;
    std::this_thread::sleep_until(began_ + std::chrono::duration_cast<std::chrono::steady_clock::duration>(
                                               std::chrono::duration<double>(due_s)));
  }

 private:
  double speed_;
  bool started_ = false;
  TimePoint first_{};
  std::chrono::steady_clock::time_point began_{};
};

}  // namespace

ExitStatus run_replay(const CommonOptions& common, const ReplayOptions& options) {
  auto recording = Recording::open(options.input, common.settings);
  if (!recording) return report(recording.error(), ExitStatus::wrong);
  std::ios::sync_with_stdio(false);  // a buffer of its own: nobody else writes there
  JournalPrinter printer(std::cout, common.json);
  Pace pace(options.speed);
  const bool somebody_waits =
      pace.waits() || options.input == "-";  // a pipe may be live; a file is read at once
  Output out;
  while (true) {
    auto item = recording->next_that_counts();
    if (!item) return report(item.error(), ExitStatus::failed);
    if (!*item) break;
    pace.wait_for(time_of(**item));
    out.clear();
    recording->flow().on_item(**item, out);
    if (out.events.empty()) continue;
    printer.print(out.events);
    if (somebody_waits) printer.flush();
    if (printer.failed()) return ExitStatus::failed;  // the reader of our output has gone
  }
  printer.flush();
  if (printer.failed()) return ExitStatus::failed;
  return recording->report_ending();
}

}  // namespace sumplog
