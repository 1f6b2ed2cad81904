#include <chrono>
#include <cstdint>
#include <iostream>

#include "app/commands.h"
#include "app/job_access.h"
#include "app/job_finding.h"
#include "app/job_place.h"
#include "app/recording_walk.h"
#include "core/codes/code_sheet.h"
#include "core/diagnostics/who_is_there.h"
#include "core/item/entry_names.h"
#include "io/job_file.h"

namespace sumplog {
namespace {

// Own choice: longer than the asker gives a scan.
constexpr double kLongestScan_s = 400;

ExitStatus tell_who(const CommonOptions& common, const std::string& path) {
  auto recording = Recording::open(path, common.settings);
  if (!recording) return report(recording.error(), ExitStatus::wrong);
  std::optional<WhoIsThere> who;
  const ExitStatus ending = walk(
      *recording, [&](const std::vector<Decoder>& decoders) { who.emplace(decoders); },
      [&](const Item& item, const Output& out) {
        if (const auto* frame = std::get_if<CanFrame>(&item)) who->on_frame(*frame);
        who->on_output(out);
      });
  if (common.json) {
    std::cout << who->json() << '\n';
  } else {
    for (const std::string& line : who->text()) std::cout << line << '\n';
  }
  if (ending != ExitStatus::done) return ending;
  return who->anybody() ? ExitStatus::done : ExitStatus::failed;
}

bool is_about_codes(const Event& event) {
  return std::holds_alternative<CodesEvent>(event) || std::holds_alternative<ScanEvent>(event) ||
         std::holds_alternative<ComparedEvent>(event);
}

ExitStatus tell_codes(const CommonOptions& common, const std::string& path) {
  auto recording = Recording::open(path, common.settings);
  if (!recording) return report(recording.error(), ExitStatus::wrong);
  CodeSheet sheet;
  const ExitStatus ending = walk(
      *recording, [](const std::vector<Decoder>&) {},
      [&](const Item&, const Output& out) {
        for (const Event& event : out.events) {
          sheet.on_event(event);
          if (common.json && is_about_codes(event)) std::cout << journal_line(event) << '\n';
        }
      });
  if (!common.json)
    for (const std::string& line : sheet.text()) std::cout << line << '\n';
  if (ending != ExitStatus::done) return ending;
  // A scan counts when it is complete. A recording of another tester has none: there an answer does.
  const bool reached = sheet.scan() ? sheet.scan()->complete : sheet.anything();
  return reached ? ExitStatus::done : ExitStatus::failed;
}

/// The job is held by `serve`, and with it the bus: it is asked over its page.
ExitStatus scan_by_who_holds(const CommonOptions& common, const ScanOptions& options,
                             const std::string& path) {
  if (options.who)
    return report(
        Fault{"another sumplog holds this job", path,
              "its page tells who is there; or stop it, or look into the file: sumplog scan --who FILE"},
        ExitStatus::wrong);
  const std::string stage = options.stage.empty() ? std::string(kScanDuring) : options.stage;
  const auto done = scan_served_job(path, random_entry_id(), stage,
                                    std::chrono::seconds(static_cast<std::int64_t>(kLongestScan_s)));
  if (!done) return report(done.error().fault, done.error().failed ? ExitStatus::failed : ExitStatus::wrong);
  return tell_codes(common, path);
}

}  // namespace

ExitStatus run_scan(const CommonOptions& common, const ScanOptions& options) {
  const auto tell = options.who ? tell_who : tell_codes;
  if (!options.capture.empty()) return tell(common, options.capture);
  if (!options.job.empty()) {
    const auto path = find_job(common.settings, options.job);
    if (!path) return report(path.error(), ExitStatus::wrong);
    if (JobFile::is_held(*path)) return scan_by_who_holds(common, options, *path);
  }
  ScanJob scan;
  scan.codes = !options.who;
  scan.stage = options.stage;
  scan.path = options.job;
  ServeOptions serve;
  serve.job = options.job;
  serve.for_s = kLongestScan_s;
  serve.scan = &scan;
  const ExitStatus done = run_serve(common, serve);
  if (done != ExitStatus::done) return done;
  return tell(common, scan.path);
}

}  // namespace sumplog
