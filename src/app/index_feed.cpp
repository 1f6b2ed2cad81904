#include "app/index_feed.h"

#include <chrono>
#include <utility>

#include "app/job_indexing.h"
#include "app/job_place.h"
#include "app/program_log.h"
#include "io/job_folder.h"

namespace sumplog {
namespace {

constexpr std::chrono::milliseconds kPatience{
    3000};  // own choice: at the end of a job somebody waits for the prompt

void tell(const Fault& fault) {
  if (fault.what.empty())
    log_info("the index is reached again: " + fault.place);
  else
    log_warning("index: " + fault.text());
}

}  // namespace

IndexFeed::IndexFeed(const ProgramSettings& settings, std::string job_path)
    : job_path_(std::move(job_path)),
      worker_(
          index_place(settings),
          [bay = bay_name(settings)](const std::string& path) { return read_for_index(path, bay); }, tell,
          IndexWorkerOptions{absolute_folder(data_folder(settings)), bay_name(settings)}) {
  worker_.follow(job_path_);
}

IndexFeed::~IndexFeed() {
  worker_.follow("");
  worker_.enqueue(job_path_);
  if (!worker_.stop(kPatience))
    log_warning("index: not everything is entered yet; the next start does it, or sumplog jobs rebuild");
}

}  // namespace sumplog
