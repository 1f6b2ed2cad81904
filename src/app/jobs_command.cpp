#include <iostream>
#include <nlohmann/json.hpp>

#include "app/commands.h"
#include "app/job_access.h"
#include "app/job_finding.h"
#include "app/job_look.h"
#include "app/job_opening.h"
#include "app/job_place.h"
#include "app/table_text.h"
#include "core/item/entry_names.h"
#include "core/item/json_line.h"
#include "core/record/entry_table.h"
#include "io/direct_recorder.h"
#include "io/job_time.h"
#include "io/side_by_side.h"

namespace sumplog {
namespace {

constexpr std::size_t kShortId = 8;  // digits of an id in a list
// Columns of the list: 8 + 16 + 7 + 10 + 17 + 12 and their gaps are 80.
constexpr std::size_t kBegunWide = 16;
constexpr std::size_t kStateWide = 7;
constexpr std::size_t kPlateWide = 10;
constexpr std::size_t kVinWide = 17;  // ISO 3779

std::string state_of(const JobLook& look) {
  if (look.seals == "changed") return "changed";
  if (look.held) return "running";
  return look.record.ended ? "closed" : "open";
}

std::string row_of(const JobLook& look) {
  const JobRecord& record = look.record;
  const VerdictEvent* const verdict = record.verdict();
  std::string row = cell(record.job, kShortId) + "  " +
                    cell(record.began ? local_time(*record.began) : "", kBegunWide) + "  " +
                    cell(state_of(look), kStateWide) + "  " + cell(record.plate, kPlateWide) + "  " +
                    cell(record.vin(), kVinWide) + "  ";
  row += verdict == nullptr ? "" : verdict->kept ? "kept" : "not kept";
  while (row.ends_with(' ')) row.pop_back();
  return row;
}

}  // namespace

ExitStatus run_jobs_new(const CommonOptions& common, const JobsOptions& options) {
  const auto intake = fields_from_words(kIntake, options.intake);
  if (!intake) return report(intake.error(), ExitStatus::wrong);
  auto time = JobTime::start();
  if (!time) return report(time.error(), ExitStatus::failed);
  const TimePoint start = time->now();
  const std::string id = random_job_id();
  auto opening = opening_items(common.settings, id, start);
  if (!opening) return report(opening.error(), ExitStatus::wrong);
  const std::string path = new_job_path(common.settings, start, id);
  auto created = JobFile::create(path, *opening);
  if (!created) return report(created.error(), ExitStatus::failed);
  DirectRecorder recorder(std::move(created->file));
  if (!options.intake.empty()) {
    auto written = recorder.record(Entry{start, random_entry_id(), std::string(kIntake), *intake});
    if (!written) return report(written.error(), ExitStatus::failed);
    if (auto synced = recorder.sync(); !synced) return report(synced.error(), ExitStatus::failed);
  }
  if (common.json)
    std::cout << JsonLine().text("job", id).text("file", path).take() << '\n';
  else
    std::cout << "job " << id.substr(0, kShortId) << ": " << path << '\n';
  return ExitStatus::done;
}

ExitStatus run_jobs_list(const CommonOptions& common, const JobsOptions&) {
  const auto files = job_files(data_folder(common.settings));
  if (!files) return report(files.error(), ExitStatus::failed);
  ExitStatus status = ExitStatus::done;
  bool headed = common.json;
  side_by_side(*files, look_at_job, [&](const Result<JobLook>& look) {
    if (!look) {  // one that cannot be read costs itself only
      status = report(look.error(), ExitStatus::failed);
      return true;
    }
    if (!std::exchange(headed, true))
      std::cout << cell("job", kShortId) << "  " << cell("begun", kBegunWide) << "  "
                << cell("state", kStateWide) << "  " << cell("plate", kPlateWide) << "  "
                << cell("VIN", kVinWide) << "  conditions\n";
    std::cout << (common.json ? look->json_line() : row_of(*look)) << '\n';
    return std::cout.good();  // the reader of our output may have gone
  });
  if (!headed) std::cout << "no jobs in " << data_folder(common.settings) << '\n';
  return status;
}

ExitStatus run_jobs_show(const CommonOptions& common, const JobsOptions& options) {
  const auto path = find_job(common.settings, options.job);
  if (!path) return report(path.error(), ExitStatus::wrong);
  const auto look = look_at_job(*path);
  if (!look) return report(look.error(), ExitStatus::wrong);
  if (common.json) {
    std::cout << look->json_line() << '\n';
    return ExitStatus::done;
  }
  for (const std::string& line : text(look->record, local_time)) std::cout << line << '\n';
  std::cout << "file         " << look->path << '\n' << "seals        " << look->seals << '\n';
  if (!look->fingerprint.empty()) std::cout << "fingerprint  " << look->fingerprint << '\n';
  return ExitStatus::done;
}

ExitStatus run_jobs_close(const CommonOptions& common, const JobsOptions& options) {
  const auto path = find_job(common.settings, options.job);
  if (!path) return report(path.error(), ExitStatus::wrong);
  const auto closed = close_job(*path, options.sign_over);
  if (!closed)
    return report(closed.error().fault, closed.error().failed ? ExitStatus::failed : ExitStatus::wrong);
  if (common.json) {
    std::cout << *closed << '\n';
    return ExitStatus::done;
  }
  const auto told = nlohmann::json::parse(*closed, nullptr, false);
  std::cout << "closed: " << *path
            << "\nfingerprint: " << (told.is_object() ? told.value("fingerprint", "") : "") << '\n';
  return ExitStatus::done;
}

}  // namespace sumplog
