#pragma once
#include <string>

#include "app/program_settings.h"
#include "io/index_worker.h"

namespace sumplog {

/// Keeps the index up to date while a job is recorded, as long as it lives: the job when it begins, now and then, and once more when its
/// file is let go; and what earlier runs could not enter. It never holds up the job, and at the end waits a few seconds at most.
class IndexFeed {
 public:
  IndexFeed(const ProgramSettings& settings, std::string job_path);
  ~IndexFeed();
  IndexFeed(const IndexFeed&) = delete;
  IndexFeed& operator=(const IndexFeed&) = delete;

 private:
  std::string job_path_;
  IndexWorker worker_;
};

}  // namespace sumplog
