#include "app/live_run.h"

#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "app/cue_outputs.h"
#include "app/daemon.h"
#include "app/index_feed.h"
#include "app/job_finding.h"
#include "app/job_opening.h"
#include "app/job_place.h"
#include "app/live_page.h"
#include "app/port_setting.h"
#include "app/program_log.h"
#include "app/rate_setting.h"
#include "core/item/entry_names.h"
#include "core/item/json_line.h"
#include "core/job/job_settings.h"
#include "io/capture_file.h"

namespace sumplog {
namespace {

Result<HeldJob> new_job(const ProgramSettings& settings, TimePoint start) {
  const std::string job = random_job_id();
  auto opening = opening_items(settings, job, start);
  if (!opening) return tl::unexpected(opening.error());
  auto created = JobFile::create(new_job_path(settings, start, job), *opening);
  if (!created) return tl::unexpected(created.error());
  return HeldJob{std::move(created->file), std::move(created->header)};
}

/// The opening items of a job file.
Result<std::vector<Item>> header_of(const std::string& path) {
  auto file = CaptureFile::open(path);
  if (!file) return tl::unexpected(file.error());
  std::vector<Item> header;
  while (true) {
    auto item = file->next();
    if (!item) return tl::unexpected(item.error());
    const bool opens =
        *item && (std::holds_alternative<Settings>(**item) || std::holds_alternative<DecoderText>(**item));
    if (!opens) return header;
    header.push_back(std::move(**item));
  }
}

/// What the person chose he stands for: the decoder, and the window where its service file has one.
void confirm(Daemon& daemon, const std::vector<Item>& header, const std::string& by) {
  ConfigurationReader reader;
  for (const Item& item : header) reader.on_item(item);
  std::vector<std::string_view> chosen{"decoder"};
  if (reader.finish().window) chosen.emplace_back("window");
  for (const std::string_view what : chosen)
    daemon.enter(std::string(kConfirmed), JsonLine().text("what", what).text("by", by).take());
}

ExitStatus run_resumed(boost::asio::io_context& loop, std::unique_ptr<LivePort> port,
                       std::unique_ptr<WebServer> page, JobTime time, const std::string& path,
                       std::optional<double> for_s, const DaemonOptions& daemon_options) {
  auto resumed = JobFile::resume(path, time.now());
  if (!resumed) return report(resumed.error(), ExitStatus::wrong);
  if (resumed->changed)
    log_warning(path + ": a seal does not fit; the file was changed before line " +
                std::to_string(resumed->changed->last));
  auto header = header_of(path);
  if (!header) return report(header.error(), ExitStatus::wrong);
  Daemon daemon(loop, std::move(port), std::move(time), HeldJob{std::move(resumed->file), std::move(*header)},
                daemon_options);
  if (auto past = daemon.replay_past(resumed->torn_bytes.has_value()); !past)
    return report(past.error(), ExitStatus::wrong);
  if (page) daemon.serve(std::move(page));
  log_info("going on with " + path);
  return daemon.run(true, for_s);
}

}  // namespace

Result<void> check_live_settings(const ProgramSettings& settings, bool new_job) {
  const std::string record = settings.value("record").value_or("needed");
  if (record != "needed" && record != "all")
    return fault("'" + record + "' is neither needed nor all", settings.place("record"));
  if (auto address = page_address(settings); !address) return tl::unexpected(address.error());
  if (auto wish = port_wish(settings); !wish) return tl::unexpected(wish.error());
  if (auto asking = asker_settings(settings, {}); !asking) return tl::unexpected(asking.error());
  if (auto cues = CueOutputs::check(settings); !cues) return cues;
  if (!new_job) return {};
  if (auto opening = opening_items(settings, {}, {}); !opening) return tl::unexpected(opening.error());
  return {};
}

ExitStatus run_live(const CommonOptions& common, boost::asio::io_context& loop,
                    std::unique_ptr<LivePort> port, const ServeOptions& options,
                    const AskerSettings& asking) {
  auto time = JobTime::start();
  if (!time) return report(time.error(), ExitStatus::failed);
  auto cues = CueOutputs::open(loop, common.settings);
  if (!cues) return report(cues.error(), ExitStatus::wrong);
  DaemonOptions daemon_options;
  // What a sweep finds can be judged only against everything else that the bus tells meanwhile.
  daemon_options.keep_all = common.settings.value("record") == "all" || options.sweep != nullptr;
  daemon_options.asking = asking;
  daemon_options.json = common.json;
  daemon_options.scan = options.scan;
  daemon_options.sweep = options.sweep;
  if (options.scan == nullptr) daemon_options.cues = cues->get();
  Result<std::unique_ptr<WebServer>> page = nullptr;
  if (options.scan == nullptr) page = open_page(loop, common.settings);
  if (!page) return report(page.error(), ExitStatus::wrong);
  if (!options.job.empty()) {
    const auto path = find_job(common.settings, options.job);
    if (!path) return report(path.error(), ExitStatus::wrong);
    if (options.scan != nullptr) options.scan->path = *path;
    if (options.sweep != nullptr) options.sweep->path = *path;
    const IndexFeed feed(common.settings, *path);
    return run_resumed(loop, std::move(port), std::move(*page), std::move(*time), *path, options.for_s,
                       daemon_options);
  }
  auto job = new_job(common.settings, time->now());
  if (!job) return report(job.error(), ExitStatus::wrong);
  log_info("job file: " + job->file.path());
  if (options.scan != nullptr) options.scan->path = job->file.path();
  if (options.sweep != nullptr) options.sweep->path = job->file.path();
  const std::vector<Item> header = job->header;
  const IndexFeed feed(common.settings, job->file.path());  // it outlives the daemon, which holds the file
  Daemon daemon(loop, std::move(port), std::move(*time), std::move(*job), daemon_options);
  daemon.begin_new(header);
  if (!options.confirmed_by.empty()) confirm(daemon, header, options.confirmed_by);
  if (*page) daemon.serve(std::move(*page));
  return daemon.run(false, options.for_s);
}

}  // namespace sumplog
