#include <iostream>

#include "app/commands.h"
#include "app/job_finding.h"
#include "app/job_place.h"
#include "core/item/json_line.h"
#include "io/job_redaction.h"

namespace sumplog {

ExitStatus run_jobs_redact(const CommonOptions& common, const RedactOptions& options) {
  const auto job = find_job(common.settings, options.job);
  if (!job) return report(job.error(), ExitStatus::wrong);
  const auto done = redact_job(*job, options.to, random_job_id());
  if (!done) return report(done.error(), ExitStatus::wrong);
  const RedactionCount& count = done->count;
  if (done->unreadable > 0)
    std::cerr << "sumplog: " << *job << ": " << done->unreadable
              << " lines could not be read; they are not in the copy\n";
  if (common.json) {
    std::cout << JsonLine()
                     .text("file", done->path)
                     .flag("closed", done->closed)
                     .integer("frames_covered", static_cast<std::int64_t>(count.frames))
                     .integer("vins", static_cast<std::int64_t>(count.vins))
                     .integer("entries_changed", static_cast<std::int64_t>(count.entries))
                     .integer("photos_left_out", static_cast<std::int64_t>(count.photos))
                     .take()
              << '\n';
  } else {
    std::cout << done->path << ": a copy without plate, VIN, names, free texts and photos\n"
              << "covered: " << count.vins << " VINs, bytes in " << count.frames << " frames; "
              << count.entries << " entries changed, " << count.photos << " photos left out\n"
              << "It keeps times, odometer, fluid, parts and fault codes. Look through it before you give it "
                 "away.\n";
  }
  return done->unreadable > 0 ? ExitStatus::failed : ExitStatus::done;
}

}  // namespace sumplog
