#pragma once
#include <functional>
#include <string>
#include <vector>

#include "core/item/item.h"
#include "core/item/result.h"
#include "core/journal/event.h"
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

/// Replays a job file into its record. It takes no lock.
/// in   also  called with each item and its events; may be empty
/// err  no job file · the disk
[[nodiscard]] Result<JobRecord> replayed_record(
    const std::string& path, const std::function<void(const Item&, const std::vector<Event>&)>& also = {});

/// Reads the whole file. It takes no lock: a job that runs is looked at as far as it is written.
/// err  no job file · the disk
[[nodiscard]] Result<JobLook> look_at_job(const std::string& path);

}  // namespace sumplog
