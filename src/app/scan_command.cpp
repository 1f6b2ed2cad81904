#include <iostream>

#include "app/commands.h"
#include "app/recording.h"
#include "core/diagnostics/who_is_there.h"
#include "core/job/job_settings.h"

namespace sumplog {
namespace {

// Own choice: two tries of each question to 11- and 29-bit identifiers take a few seconds.
constexpr double kLongestScan_s = 60;

ExitStatus tell(const CommonOptions& common, const std::string& path) {
  auto recording = Recording::open(path, common.settings);
  if (!recording) return report(recording.error(), ExitStatus::wrong);
  ConfigurationReader configuration;
  std::optional<WhoIsThere> who;
  Output out;
  while (true) {
    auto item = recording->next();
    if (!item) return report(item.error(), ExitStatus::failed);
    if (!*item) break;
    const bool opens =
        std::holds_alternative<Settings>(**item) || std::holds_alternative<DecoderText>(**item);
    if (opens && !who) configuration.on_item(**item);
    if (!opens && !who) who.emplace(configuration.finish().decoders);
    out.clear();
    if (const auto* frame = std::get_if<CanFrame>(&**item); frame && who) who->on_frame(*frame);
    recording->flow().on_item(**item, out);
    if (who) who->on_output(out);
  }
  if (!who) who.emplace(configuration.finish().decoders);
  if (common.json) {
    std::cout << who->json() << '\n';
  } else {
    for (const std::string& line : who->text()) std::cout << line << '\n';
  }
  const ExitStatus ending = recording->report_ending();
  if (ending != ExitStatus::done) return ending;
  return who->anybody() ? ExitStatus::done : ExitStatus::failed;
}

}  // namespace

ExitStatus run_scan(const CommonOptions& common, const ScanOptions& options) {
  if (!options.who)
    return report(
        Fault{"fault codes cannot be scanned yet", "scan", "'sumplog scan --who' tells who is there"},
        ExitStatus::wrong);
  if (!options.capture.empty()) return tell(common, options.capture);
  std::string job;
  ServeOptions serve;
  serve.for_s = kLongestScan_s;
  serve.who = &job;
  const ExitStatus done = run_serve(common, serve);
  if (done != ExitStatus::done) return done;
  return tell(common, job);
}

}  // namespace sumplog
