#include <unistd.h>

#include <ctime>
#include <iostream>
#include <utility>

#include "app/commands.h"
#include "app/job_indexing.h"
#include "app/job_place.h"
#include "app/table_text.h"
#include "core/item/json_line.h"
#include "io/index_rebuild.h"
#include "io/job_folder.h"

namespace sumplog {
namespace {

constexpr std::uint64_t kToldEvery = 100;  // files of a rebuild

/// Midnight at the beginning of a day of this computer's time zone, so many days later.
/// err  not YYYY-MM-DD, or no day of a calendar
Result<TimePoint> day(const std::string& text, const std::string& option, int days_later) {
  std::tm local{};
  const char* const end = ::strptime(text.c_str(), "%Y-%m-%d", &local);
  const std::tm asked = local;
  local.tm_isdst = -1;
  std::time_t at = end != nullptr && *end == '\0' ? std::mktime(&local) : std::time_t{-1};
  if (end == nullptr || *end != '\0' || local.tm_mday != asked.tm_mday)
    return fault("'" + text + "' is not a day like 2025-11-25", option);
  local.tm_mday += days_later;
  local.tm_isdst = -1;
  at = std::mktime(&local);
  return TimePoint{std::chrono::seconds{at}};
}

/// A time of the index as a person reads it.
std::string shown(const std::string& utc) {
  std::tm time{};
  if (::strptime(utc.c_str(), "%Y-%m-%d %H:%M:%S", &time) == nullptr) return utc;
  return local_time(TimePoint{std::chrono::seconds{::timegm(&time)}});
}

// 8 + 16 + 10 + 17 + 8 + 15 and five gaps are 79 columns.
std::string row(const std::string& id, const std::string& began, const std::string& plate,
                const std::string& vin, const std::string& conditions, const std::string& bay) {
  std::string line = cell(id, 8) + ' ' + cell(began, 16) + ' ' + cell(plate, 10) + ' ' + cell(vin, 17) + ' ' +
                     cell(conditions, 8) + ' ' + cell(bay, 15);
  while (line.ends_with(' ')) line.pop_back();
  return line;
}

std::string json_of(const FoundJob& job) {
  JsonLine line;
  const std::pair<const char*, const std::string*> texts[] = {{"job", &job.id},
                                                              {"bay", &job.bay},
                                                              {"folder", &job.folder},
                                                              {"file", &job.file},
                                                              {"state", &job.state},
                                                              {"began", &job.began},
                                                              {"ended", &job.ended},
                                                              {"plate", &job.plate},
                                                              {"vin", &job.vin},
                                                              {"vin_read", &job.vin_read},
                                                              {"unit", &job.unit},
                                                              {"transmission", &job.transmission},
                                                              {"conditions", &job.conditions},
                                                              {"thermometer", &job.thermometer},
                                                              {"level_seen", &job.level_seen}};
  for (const auto& [key, value] : texts)
    if (!value->empty()) line.text(key, *value);
  const std::pair<const char*, const std::string*> numbers[] = {
      {"odometer_km", &job.odometer_km}, {"temp_out_c", &job.temp_out_c}, {"temp_in_c", &job.temp_in_c}};
  for (const auto& [key, value] : numbers)
    if (!value->empty()) line.number(key, std::stod(*value), 2);
  line.flag("vin_mismatch", job.vin_mismatch == "1");
  if (!job.open_items.empty()) line.integer("open_items", std::stoll(job.open_items));
  if (job.redacted == "1") line.flag("redacted", true);
  if (!job.fingerprint.empty()) line.text("fingerprint", job.fingerprint);
  return line.take();
}

}  // namespace

ExitStatus run_jobs_rebuild(const CommonOptions& common) {
  auto index = JobIndex::open(index_place(common.settings));
  if (!index) return report(index.error(), ExitStatus::failed);
  const std::string bay = bay_name(common.settings);
  bool named = false;
  const bool person = ::isatty(STDERR_FILENO) == 1;
  const auto count = rebuild_index(
      *index, {absolute_folder(data_folder(common.settings)), bay},
      [&](const std::string& path) { return read_for_index(path, bay); },
      [&](const Fault& fault) {
        named = true;
        (void)report(fault, ExitStatus::failed);
      },
      [&](std::uint64_t done, std::uint64_t of) {
        if (done % kToldEvery != 0 && done != of) return true;
        if (person)
          std::cerr << '\r' << done << " of " << of << " jobs" << (done == of ? "\n" : "") << std::flush;
        if (!person && common.verbose) std::cerr << "sumplog: " << done << " of " << of << " jobs\n";
        return true;
      });
  if (!count) return report(count.error(), ExitStatus::failed);
  if (common.json) {
    std::cout << JsonLine()
                     .integer("files", static_cast<std::int64_t>(count->files))
                     .integer("indexed", static_cast<std::int64_t>(count->indexed))
                     .integer("skipped", static_cast<std::int64_t>(count->skipped))
                     .integer("removed", static_cast<std::int64_t>(count->removed))
                     .take()
              << '\n';
  } else {
    std::cout << count->indexed << " of " << count->files << " job files are in the index "
              << index_place(common.settings).shown() << "; " << count->skipped << " skipped, "
              << count->removed << " removed because their files are gone\n";
  }
  return named ? ExitStatus::failed : ExitStatus::done;
}

ExitStatus run_jobs_find(const CommonOptions& common, const FindOptions& options) {
  JobQuery query{options.plate, options.vin, options.code, options.fluid, options.verdict, {}, {}};
  if (!options.from.empty()) {
    auto from = day(options.from, "--from", 0);
    if (!from) return report(from.error(), ExitStatus::wrong);
    query.from = *from;
  }
  if (!options.to.empty()) {
    auto to = day(options.to, "--to", 1);
    if (!to) return report(to.error(), ExitStatus::wrong);
    query.to = *to;
  }
  auto index = JobIndex::open(index_place(common.settings));
  if (!index) return report(index.error(), ExitStatus::failed);
  const auto found = index->find(query);
  if (!found) return report(found.error(), ExitStatus::failed);
  if (!common.json && !found->empty())
    std::cout << row("job", "begun", "plate", "VIN", "check", "bay") << '\n';
  for (const FoundJob& job : *found) {
    if (common.json)
      std::cout << json_of(job) << '\n';
    else
      std::cout << row(job.id, shown(job.began), job.plate, job.vin.empty() ? job.vin_read : job.vin,
                       job.conditions, job.bay)
                << '\n';
  }
  if (found->empty() && !common.json)
    std::cout << "no job in the index fits; sumplog jobs rebuild enters what is missing\n";
  return ExitStatus::done;
}

}  // namespace sumplog
