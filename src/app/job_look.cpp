#include "app/job_look.h"

#include <utility>

#include "core/item/json_line.h"
#include "core/journal/flow.h"
#include "core/record/job_summary.h"
#include "io/capture_file.h"
#include "io/job_file.h"
#include "io/verify.h"

namespace sumplog {
std::string JobLook::json_line() const {
  JsonLine line;
  line.text("file", path).text("seals", seals);
  if (!fingerprint.empty()) line.text("fingerprint", fingerprint);
  return line.flag("held", held).raw("record", json(record)).take();
}

Result<JobRecord> replayed_record(const std::string& path,
                                  const std::function<void(const Item&, const std::vector<Event>&)>& also) {
  auto file = CaptureFile::open(path);
  if (!file) return tl::unexpected(file.error());
  Flow flow;
  JobSummary summary;
  Output out;
  while (true) {
    auto item = file->next();
    if (!item) return tl::unexpected(item.error());
    if (!*item) return summary.record();
    out.clear();
    flow.on_item(**item, out);
    feed(summary, **item, out.events);
    if (also) also(**item, out.events);
  }
}

Result<JobLook> look_at_job(const std::string& path) {
  const auto verified = verify(path);
  if (!verified) return tl::unexpected(verified.error());
  auto record = replayed_record(path);
  if (!record) return tl::unexpected(record.error());
  return JobLook{path, std::move(*record), std::string(text_of(verified->state)), verified->fingerprint,
                 JobFile::is_held(path)};
}

}  // namespace sumplog
