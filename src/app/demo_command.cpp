#include <chrono>
#include <csignal>
#include <iostream>
#include <memory>
#include <optional>

#include "app/commands.h"
#include "app/job_opening.h"
#include "app/job_place.h"
#include "app/journal_printer.h"
#include "app/live_run.h"
#include "app/program_log.h"
#include "app/simulated_port.h"
#include "core/item/entry_names.h"
#include "core/item/json_line.h"
#include "core/vehicle/simulated_job.h"
#include "io/direct_recorder.h"

namespace sumplog {
namespace {

volatile std::sig_atomic_t stop_asked = 0;
void ask_to_stop(int) {
  stop_asked = 1;
}

// The scans before and after the work: when the vehicle has woken up, and before the demo ends.
constexpr Duration kBeforeAt = std::chrono::seconds{2};
constexpr Duration kAfterAt = std::chrono::seconds{30};  // before its end

/// What a technician would enter in the course of the demo.
class DemoPerson {
 public:
  explicit DemoPerson(SimulatedJob& job)
      : job_(job), before_(job.now() + kBeforeAt), after_(job.end() - kAfterAt) {}

  [[nodiscard]] Result<void> act(std::vector<Event>& events) {
    if (job_.now() >= before_ && !std::exchange(scanned_before_, true)) return scan(kScanBefore, events);
    if (job_.now() >= after_ && after_ > before_ && !std::exchange(scanned_after_, true))
      return scan(kScanAfter, events);
    return {};
  }

 private:
  [[nodiscard]] Result<void> scan(std::string_view stage, std::vector<Event>& events) {
    const std::string name(stage);
    return job_.enter(
        Entry{job_.now(), "demo-scan-" + name, std::string(kScanEntry), JsonLine().text("scan", name).take()},
        events);
  }

  SimulatedJob& job_;
  TimePoint before_;
  TimePoint after_;
  bool scanned_before_ = false;
  bool scanned_after_ = false;
};

/// In fast time: the recorder writes in this thread, and no clock is asked.
ExitStatus run_once(const CommonOptions& common, const Scenario& scenario) {
  const auto wall = std::chrono::system_clock::now();
  const TimePoint start{std::chrono::duration_cast<Duration>(wall.time_since_epoch())};
  const std::string job = random_job_id();
  auto opening = opening_items(common.settings, job, start);
  if (!opening) return report(opening.error(), ExitStatus::wrong);
  const std::string path = new_job_path(common.settings, start, job);
  auto created = JobFile::create(path, *opening);
  if (!created) return report(created.error(), ExitStatus::failed);
  DirectRecorder recorder(std::move(created->file));
  std::signal(SIGINT, ask_to_stop);
  std::signal(SIGTERM, ask_to_stop);
  SimulatedJob simulated(scenario, start, created->header,
                         [&](const Item& item) { return recorder.record(item); });
  // A scenario with entries has a person of its own.
  std::optional<DemoPerson> person;
  if (scenario.entries.empty()) person.emplace(simulated);
  JournalPrinter printer(std::cout, common.json);
  std::vector<Event> events;
  bool goes_on = true;
  while (goes_on && stop_asked == 0) {
    events.clear();
    auto stepped = simulated.step(events);
    if (!stepped) return report(stepped.error(), ExitStatus::failed);
    goes_on = *stepped;
    if (person)
      if (auto acted = person->act(events); !acted) return report(acted.error(), ExitStatus::failed);
    printer.print(events);
  }
  events.clear();
  auto end = recorder.close(simulated.now());
  if (!end) return report(end.error(), ExitStatus::failed);
  simulated.on_closed(*end, events);
  printer.print(events);
  if (!common.json) std::cout << "job file: " << path << '\n';
  return ExitStatus::done;
}

/// In real time, as `serve` does it, with the page.
ExitStatus run_live_demo(const CommonOptions& common, const DemoOptions& options, Scenario scenario) {
  start_log(common.verbose);
  if (auto checked = check_live_settings(common.settings); !checked)
    return report(checked.error(), ExitStatus::wrong);
  boost::asio::io_context loop{1};
  AskerSettings asking;
  asking.bus = scenario.bus;
  std::vector<EntryPlan> entries = scenario.entries;
  if (entries.empty()) {
    const auto scan = [](std::string_view stage) { return JsonLine().text("scan", stage).take(); };
    entries.push_back({kBeforeAt, std::string(kScanEntry), scan(kScanBefore)});
    if (scenario.lasts - kAfterAt > kBeforeAt)
      entries.push_back({scenario.lasts - kAfterAt, std::string(kScanEntry), scan(kScanAfter)});
  }
  auto port = std::make_unique<SimulatedPort>(loop, std::move(scenario));
  for (std::size_t i = 0; i < entries.size(); ++i)
    port->enter_at(entries[i].at, "demo-" + std::to_string(i + 1), entries[i].name, entries[i].fields);
  ServeOptions serve;
  serve.job = options.job;
  serve.for_s = options.for_s;
  return run_live(common, loop, std::move(port), serve, asking);
}

constexpr char kDemoScenario[] = "demo-9/cold-start-to-window/scenario.toml";

}  // namespace

ExitStatus run_demo(const CommonOptions& common, const DemoOptions& options) {
  const std::string place = options.scenario.empty() ? shipped_scenario(kDemoScenario) : options.scenario;
  auto text = read_text_file(place);
  if (!text) return report(text.error(), ExitStatus::wrong);
  auto scenario = parse_scenario(*text, place);
  if (!scenario) return report(scenario.error(), ExitStatus::wrong);
  CommonOptions with_decoder = common;
  if (!common.settings.value("decoder")) with_decoder.settings.set("decoder", "demo-9");
  if (!common.json)
    std::cout << "sumplog demo: a simulated vehicle, invented data.\n"
              << scenario->title << ".\n"
              << "On a car: hot fluid, running engine, raised car; the maker's procedure first.\n"
              << std::flush;
  return options.once ? run_once(with_decoder, *scenario)
                      : run_live_demo(with_decoder, options, std::move(*scenario));
}

}  // namespace sumplog
