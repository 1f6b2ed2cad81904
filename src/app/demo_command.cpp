#include <chrono>
#include <csignal>
#include <iostream>
#include <memory>
#include <utility>

#include "app/commands.h"
#include "app/fast_job.h"
#include "app/first_steps.h"
#include "app/job_opening.h"
#include "app/job_place.h"
#include "app/live_run.h"
#include "app/program_log.h"
#include "app/simulated_port.h"
#include "core/item/entry_names.h"
#include "core/item/json_line.h"

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
  DemoPerson(TimePoint start, Duration lasts)
      : before_(start + kBeforeAt), after_(start + lasts - kAfterAt) {}

  [[nodiscard]] Result<void> act(SimulatedJob& job, std::vector<Event>& events) {
    if (job.now() >= before_ && !std::exchange(scanned_before_, true)) return scan(job, kScanBefore, events);
    if (job.now() >= after_ && after_ > before_ && !std::exchange(scanned_after_, true))
      return scan(job, kScanAfter, events);
    return {};
  }

 private:
  [[nodiscard]] static Result<void> scan(SimulatedJob& job, std::string_view stage,
                                         std::vector<Event>& events) {
    const std::string name(stage);
    return job.enter(
        Entry{job.now(), "demo-scan-" + name, std::string(kScanEntry), JsonLine().text("scan", name).take()},
        events);
  }

  TimePoint before_;
  TimePoint after_;
  bool scanned_before_ = false;
  bool scanned_after_ = false;
};

ExitStatus run_once(const CommonOptions& common, const Scenario& scenario) {
  const auto wall = std::chrono::system_clock::now();
  const TimePoint start{std::chrono::duration_cast<Duration>(wall.time_since_epoch())};
  const std::string job = random_job_id();
  const auto opening = opening_items(common.settings, job, start);
  if (!opening) return report(opening.error(), ExitStatus::wrong);
  const std::string path = new_job_path(common.settings, start, job);
  std::signal(SIGINT, ask_to_stop);
  std::signal(SIGTERM, ask_to_stop);
  DemoPerson person(start, scenario.lasts);
  JournalPrinter printer(std::cout, common.json);
  const auto done = play_fast_job(scenario, start, *opening, path, printer,
                                  [&](SimulatedJob& simulated, std::vector<Event>& events) -> Result<bool> {
                                    // A scenario with entries has a person of its own.
                                    if (scenario.entries.empty())
                                      if (auto acted = person.act(simulated, events); !acted)
                                        return tl::unexpected(acted.error());
                                    return stop_asked == 0;
                                  });
  if (!done) return report(done.error(), ExitStatus::failed);
  if (!common.json) std::cout << "job file: " << path << std::endl;
  if (!std::cout) return report(Fault{"cannot be written", "standard output", {}}, ExitStatus::failed);
  return ExitStatus::done;
}

/// In real time, as `serve` does it, with the page.
ExitStatus run_live_demo(const CommonOptions& common, const DemoOptions& options, Scenario scenario) {
  start_log(common.verbose);
  if (auto checked = check_live_settings(common.settings, options.job.empty()); !checked)
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

/// As `serve` without arguments, on an adapter that is there already.
ExitStatus run_led_demo(const CommonOptions& common, const DemoOptions& options, const Scenario& scenario) {
  start_log(common.verbose);
  if (auto checked = check_live_settings(common.settings, true); !checked)
    return report(checked.error(), ExitStatus::wrong);
  CommonOptions led = common;
  led.settings.set("interface", std::string(scenario.bus.text()));
  ServeOptions serve;
  serve.for_s = options.for_s;
  return run_first_steps(
      led, serve,
      [&](boost::asio::io_context& loop, const ProgramSettings&) -> Result<std::unique_ptr<LivePort>> {
        return std::make_unique<SimulatedPort>(loop, scenario);
      });
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
  if (options.first_steps) return run_led_demo(common, options, *scenario);
  return options.once ? run_once(with_decoder, *scenario)
                      : run_live_demo(with_decoder, options, std::move(*scenario));
}

}  // namespace sumplog
