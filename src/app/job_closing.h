#pragma once
#include <string>
#include <vector>

#include "core/item/item.h"
#include "core/item/result.h"
#include "core/record/job_record.h"

namespace sumplog {

// What it takes to close a job: nothing is left open, or somebody puts his name to what is.

/// Those of the open items that are neither done nor signed over.
[[nodiscard]] std::vector<OpenItem> open_ones(const JobRecord& record);
/// Why a job with them is not closed, with the way out.
[[nodiscard]] Fault open_items_fault(const std::vector<OpenItem>& open, const std::string& place);
/// The entries by which somebody takes them over.
[[nodiscard]] std::vector<Entry> signed_over(const std::vector<OpenItem>& open, const std::string& by,
                                             TimePoint at);

/// What is told of a job that was closed: {"closed":true,"job":…,"file":…,"fingerprint":…}.
/// in   path  of its file
/// err  it cannot be read back, or is not closed
[[nodiscard]] Result<std::string> closed_text(const std::string& path);

}  // namespace sumplog
