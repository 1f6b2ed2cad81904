#include <algorithm>
#include <filesystem>
#include <iostream>

#include "app/commands.h"
#include "app/job_finding.h"
#include "app/job_look.h"
#include "app/job_opening.h"
#include "app/table_text.h"
#include "core/drawing/course_chart.h"
#include "core/drawing/report_page.h"
#include "core/item/json_line.h"
#include "core/record/image_kind.h"
#include "io/base64.h"
#include "io/durable_file.h"
#include "io/job_photos.h"
#include "io/verify.h"
#include "io/web_server.h"

namespace sumplog {

namespace fs = std::filesystem;
using namespace std::chrono_literals;

namespace {

// What a report embeds at most; the rest is named.
constexpr std::uint64_t kMostPhotoBytes = 64U << 20;  // of all of them
constexpr std::size_t kMostPhotos = 24;

constexpr std::size_t kMostLevelCourses = 3;
constexpr Duration kBeforePlugOut = 6min;
constexpr Duration kAfterPlugIn = 2min;
constexpr int kCourseHeight = 300;  // CSS pixels
constexpr int kLevelHeight = 280;

/// Refuses a name whose file a report must not take away.
Result<void> may_write(const ReportOptions& options, const std::string& job,
                       const std::vector<ListedPhoto>& photos) {
  std::error_code ignored;
  if (!fs::exists(options.to, ignored)) return {};
  if (fs::is_directory(options.to, ignored))
    return fault("is a folder", options.to, "name a file in it, for example report.html");
  if (!options.replace) return fault("exists already", options.to, "give another name, or add --replace");
  if (job_id_of(options.to)) return fault("is a job file", options.to, "give another name");
  for (const ListedPhoto& photo : photos)
    if (fs::equivalent(fs::path(folder_of(job)) / photo.file, options.to, ignored))
      return fault("is a photo of this job", options.to, "give another name");
  return {};
}

Result<void> write_whole(const std::string& path, bool replace, std::string_view text) {
  const DiskCalls calls;
  auto file = open_unfinished(path);
  if (!file) return tl::unexpected(file.error());
  const std::string unfinished = unfinished_name(path);
  const auto written = [&]() -> Result<void> {
    if (auto all = write_all(*file, text, calls, path); !all) return all;
    if (calls.sync_all(file->get()) != 0) return tl::unexpected(disk_fault(errno, "cannot sync", path));
    return replace ? rename_over(unfinished, path) : rename_new(unfinished, path);
  }();
  if (!written) {
    std::error_code ignored;
    fs::remove(unfinished, ignored);
    return written;
  }
  return sync_folder(folder_of(path), calls);
}

/// Each photo as its job names it, with its content where that is whole and an image.
std::vector<ReportPhoto> embedded(const JobRecord& record, const std::string& folder) {
  std::vector<ReportPhoto> photos;
  std::uint64_t together = 0;
  for (const PhotoRecord& photo : record.photos) {
    ReportPhoto one{photo, {}, {}};
    std::string bytes;
    const bool room = photos.size() < kMostPhotos && together < kMostPhotoBytes;
    const PhotoFinding found =
        read_photo({photo.file, photo.sha256}, folder, room ? WebLimits{}.photo_bytes : 0, bytes);
    const auto kind = image_kind(bytes);
    if (found.state == PhotoState::whole && kind) {
      together += bytes.size();
      one.data_uri = "data:" + std::string(kind->type) + ";base64," + base64(bytes);
    } else if (found.state == PhotoState::whole) {
      one.trouble = "photo " + json_string(photo.file) + " is no picture";
    } else if (found.state == PhotoState::unreadable && !room) {
      one.trouble = "photo " + json_string(photo.file) + " is not shown: too many for one report";
    } else {
      one.trouble = text(found);
    }
    photos.push_back(std::move(one));
  }
  return photos;
}

void draw_courses(const CourseChart& chart, ReportFacts& facts) {
  if (chart.empty()) return;
  CourseOptions options;
  options.height = kCourseHeight;
  options.fahrenheit = facts.fahrenheit;
  options.clock = local_clock;
  facts.whole_course = chart.svg(options);
  const auto& verdicts = facts.record.verdicts;
  const std::size_t first = verdicts.size() - std::min(verdicts.size(), kMostLevelCourses);
  for (std::size_t i = first; i < verdicts.size(); ++i) {
    options.height = kLevelHeight;
    options.id = "level-" + std::to_string(i + 1);
    options.title = "Temperature of the transmission fluid around a level check";
    options.from = std::max(verdicts[i].out - kBeforePlugOut, facts.record.began.value_or(verdicts[i].out));
    options.to = verdicts[i].in + kAfterPlugIn;
    facts.level_courses.push_back(chart.svg(options));
  }
}

struct Gathered {
  ReportFacts facts;
  std::vector<ListedPhoto> listed;
};

Result<Gathered> gather(const std::string& job, bool fahrenheit) {
  Gathered out;
  const auto verified = verify(job, {}, &out.listed);
  if (!verified) return tl::unexpected(verified.error());
  ReportFacts& facts = out.facts;
  facts.holds = verified->holds();
  CourseChart chart;
  ConfigurationReader configuration;
  auto record = replayed_record(job, [&](const Item& item, const std::vector<Event>& events) {
    configuration.on_item(item);
    feed(chart, item, events);
    for (const Event& event : events) facts.notes.on_event(event);
  });
  if (!record) return tl::unexpected(record.error());
  facts.record = std::move(*record);
  facts.configuration = configuration.finish();
  facts.file = fs::path(job).filename().string();
  facts.seals = text_of(verified->state);
  facts.seals_text = verified->text();
  facts.fingerprint = verified->fingerprint;
  facts.program = program_text();
  facts.fahrenheit = fahrenheit;
  facts.local = local_time;
  facts.photos = embedded(facts.record, folder_of(job));
  draw_courses(chart, facts);
  return out;
}

}  // namespace

ExitStatus run_report(const CommonOptions& common, const ReportOptions& options) {
  const auto job = find_job(common.settings, options.job);
  if (!job) return report(job.error(), ExitStatus::wrong);
  const auto gathered = gather(*job, options.fahrenheit);
  if (!gathered) return report(gathered.error(), ExitStatus::wrong);
  if (const auto may = may_write(options, *job, gathered->listed); !may)
    return report(may.error(), ExitStatus::wrong);
  const ReportFacts& facts = gathered->facts;
  if (const auto written = write_whole(options.to, options.replace, report_page(facts)); !written)
    return report(written.error(), ExitStatus::failed);

  ExitStatus status = ExitStatus::done;
  if (!facts.holds) status = report(Fault{facts.seals_text, *job, {}}, ExitStatus::failed);
  for (const ReportPhoto& photo : facts.photos)
    if (photo.data_uri.empty())
      status = report(Fault{photo.trouble + ": it is not in the report", *job, {}}, ExitStatus::failed);
  if (common.json) {
    std::cout << JsonLine()
                     .text("report", options.to)
                     .text("job", facts.record.job)
                     .text("seals", facts.seals)
                     .text("fingerprint", facts.fingerprint)
                     .take()
              << '\n';
    return status;
  }
  std::cout << "report: " << options.to << '\n';
  if (!facts.record.ended) std::cout << "the job is still open: what comes later is not in this report\n";
  return status;
}

}  // namespace sumplog
