#include "app/fast_job.h"

#include "io/direct_recorder.h"

namespace sumplog {

Result<void> play_fast_job(const Scenario& scenario, TimePoint start, const std::vector<Item>& opening,
                           const std::string& path, JournalPrinter& printer, const BetweenSteps& between) {
  auto created = JobFile::create(path, opening);
  if (!created) return tl::unexpected(created.error());
  DirectRecorder recorder(std::move(created->file));
  SimulatedJob job(scenario, start, created->header, [&](const Item& item) { return recorder.record(item); });
  std::vector<Event> events;
  for (bool goes_on = true; goes_on;) {
    events.clear();
    auto stepped = job.step(events);
    if (!stepped) return tl::unexpected(stepped.error());
    goes_on = *stepped;
    if (between) {
      const auto wanted = between(job, events);
      if (!wanted) return tl::unexpected(wanted.error());
      goes_on = goes_on && *wanted;
    }
    printer.print(events);
    printer.flush();
  }
  events.clear();
  auto end = recorder.close(job.now());
  if (!end) return tl::unexpected(end.error());
  job.on_closed(*end, events);
  printer.print(events);
  printer.flush();
  return {};
}

}  // namespace sumplog
