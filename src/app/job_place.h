#pragma once
#include <string>

#include "app/program_settings.h"
#include "core/item/time.h"

namespace sumplog {

/// 32 hex digits that nobody else has.
[[nodiscard]] std::string random_job_id();

/// An id for an entry that nobody else has.
[[nodiscard]] std::string random_entry_id();

/// The folder of the job files: --data, else below XDG_DATA_HOME, else below HOME.
[[nodiscard]] std::string data_folder(const ProgramSettings& settings);

/// Where a new job goes: its start in UTC and the beginning of its id, "20251125-101500-3f2a91c0.log".
[[nodiscard]] std::string new_job_path(const ProgramSettings& settings, TimePoint start,
                                       const std::string& job);

/// The path of a scenario that is shipped with the program, "demo-9/cold-start-to-window/scenario.toml".
[[nodiscard]] std::string shipped_scenario(const std::string& name);

}  // namespace sumplog
