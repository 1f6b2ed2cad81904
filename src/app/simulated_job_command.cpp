#include <iostream>

#include "app/commands.h"
#include "app/fast_job.h"
#include "app/job_opening.h"
#include "app/program_log.h"

namespace sumplog {
namespace {

// Virtual time and a fixed id: the same scenario gives the same file.
constexpr char kJobId[] = "00000000000000000000000000000000";
constexpr char kDecoder[] = "demo-9";  // unless --decoder names another

}  // namespace

ExitStatus run_simulated_job(const CommonOptions& common, const SimulateOptions& options) {
  start_log(common.verbose);
  auto text = read_text_file(options.scenario);
  if (!text) return report(text.error(), ExitStatus::wrong);
  const auto scenario = parse_scenario(*text, options.scenario);
  if (!scenario) return report(scenario.error(), ExitStatus::wrong);
  ProgramSettings settings = common.settings;
  if (!settings.value("decoder")) settings.set("decoder", kDecoder);
  const auto opening = opening_items(settings, kJobId, scenario->start);
  if (!opening) return report(opening.error(), ExitStatus::failed);
  JournalPrinter printer(std::cout, common.json);
  if (auto done = play_fast_job(*scenario, scenario->start, *opening, options.job, printer); !done)
    return report(done.error(), ExitStatus::failed);
  if (!common.json) std::cout << "job file: " << options.job << '\n';
  return ExitStatus::done;
}

}  // namespace sumplog
