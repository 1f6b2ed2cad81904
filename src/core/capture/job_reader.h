#pragma once
#include <memory>

#include "core/capture/reader.h"

namespace sumplog {

/// Reads a job file. One line is held back: a fragment that a `torn` item explains (its length matches) is
/// not an item, because the core that was resumed never saw it. Seals are passed over; `verify` looks at
/// them. src  docs/job_file.md
[[nodiscard]] std::unique_ptr<CaptureReader> make_job_reader();

}  // namespace sumplog
