#include <iostream>

#include "app/commands.h"
#include "app/job_opening.h"
#include "app/journal_printer.h"
#include "app/program_log.h"
#include "core/vehicle/simulated_job.h"
#include "io/direct_recorder.h"

namespace sumplog {
namespace {

// Virtual time and a fixed id: the same scenario gives the same file.
constexpr char kJobId[] = "00000000000000000000000000000000";
constexpr char kDecoder[] = "demo-9";  // unless --decoder names another

/// The live job that the scenario's entries describe, into a job file.
Result<void> record_job(const Scenario& scenario, const ProgramSettings& settings, const std::string& path,
                        JournalPrinter& printer) {
  auto opening = opening_items(settings, kJobId, scenario.start);
  if (!opening) return tl::unexpected(opening.error());
  auto created = JobFile::create(path, *opening);
  if (!created) return tl::unexpected(created.error());
  DirectRecorder recorder(std::move(created->file));
  SimulatedJob job(scenario, scenario.start, created->header,
                   [&](const Item& item) { return recorder.record(item); });
  std::vector<Event> events;
  for (bool goes_on = true; goes_on;) {
    events.clear();
    auto stepped = job.step(events);
    if (!stepped) return tl::unexpected(stepped.error());
    goes_on = *stepped;
    printer.print(events);
  }
  events.clear();
  auto end = recorder.close(job.now());
  if (!end) return tl::unexpected(end.error());
  job.on_closed(*end, events);
  printer.print(events);
  return {};
}

}  // namespace

ExitStatus run_simulated_job(const CommonOptions& common, const SimulateOptions& options) {
  start_log(common.verbose);
  auto text = read_text_file(options.scenario);
  if (!text) return report(text.error(), ExitStatus::wrong);
  const auto scenario = parse_scenario(*text, options.scenario);
  if (!scenario) return report(scenario.error(), ExitStatus::wrong);
  ProgramSettings settings = common.settings;
  if (!settings.value("decoder")) settings.set("decoder", kDecoder);
  JournalPrinter printer(std::cout, common.json);
  if (auto done = record_job(*scenario, settings, options.job, printer); !done)
    return report(done.error(), ExitStatus::failed);
  if (!common.json) std::cout << "job file: " << options.job << '\n';
  return ExitStatus::done;
}

}  // namespace sumplog
