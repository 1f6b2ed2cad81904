#pragma once
#include <chrono>
#include <string>

#include "app/entry_desk.h"
#include "core/item/result.h"

namespace sumplog {

// How a command reaches an open job: the file itself, or the `serve` that holds it, over its HTTP contract.

/// Why it was not done.
struct Refusal {
  Fault fault;
  bool failed =
      false;  ///< the disk or the program that holds the job; otherwise what was asked for cannot be
};
/// What became of it: one JSON object, as docs/web.md describes it.
using Recorded = Result<std::string, Refusal>;

/// Records one entry, on the disk when this returns. A repeated id with the same content gets the first answer.
/// err  another entry has this id already · the job is closed, or held by a program without a page · `serve` refuses it, in its own words · the disk
[[nodiscard]] Recorded record_entry(const std::string& path, const EntryWish& wish);

/// Stores a photo beside the job and records its entry.
/// in   of, by  what it shows and who took it; empty: not said
[[nodiscard]] Recorded record_photo(const std::string& path, const std::string& id, const std::string& bytes,
                                    const std::string& of, const std::string& by);

/// Closes a job.
/// in   sign_over  who takes the open items over; empty: nobody
/// out  with the fingerprint
/// err  open items that nobody takes over · as above
[[nodiscard]] Recorded close_job(const std::string& path, const std::string& sign_over);

/// Asks the `serve` that holds the job for a scan of the fault codes, and waits until it has ended: what came of it stands in the
/// job file then.
/// in   stage  "before", "after", "during"
/// err  as record_entry() · it went away, or the scan did not end within `patience`
[[nodiscard]] Recorded scan_served_job(const std::string& path, const std::string& id,
                                       const std::string& stage, std::chrono::seconds patience);

}  // namespace sumplog
