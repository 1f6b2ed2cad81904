#pragma once
#include <string>

#include "core/item/result.h"
#include "core/record/job_record.h"

namespace sumplog {

/// A job as its file tells it, and what the file says of itself.
struct JobLook {
  std::string path;
  JobRecord record;
  std::string seals;        ///< "closed", "open", "torn", "changed" (docs/job_file.md)
  std::string fingerprint;  ///< of the last good seal; empty: there is none
  bool held = false;        ///< another program writes to it now

  /// One JSON object: file, seals, fingerprint, held, and the record.
  [[nodiscard]] std::string json_line() const;
};

/// Reads the whole file. It takes no lock: a job that runs is looked at as far as it is written.
/// err  no job file · the disk
[[nodiscard]] Result<JobLook> look_at_job(const std::string& path);

}  // namespace sumplog
