#pragma once
#include <string>

#include "app/program_settings.h"
#include "core/item/result.h"
#include "io/job_index.h"

namespace sumplog {

/// Reads and replays one job file into what the index holds of it. May be called from several threads.
/// err  it cannot be read · no job file
[[nodiscard]] Result<IndexedJob> read_for_index(const std::string& path, const std::string& bay);

/// --index: a server, or a file; else index.sqlite in the data folder.
[[nodiscard]] IndexPlace index_place(const ProgramSettings& settings);

/// --bay, else the computer's name.
[[nodiscard]] std::string bay_name(const ProgramSettings& settings);

}  // namespace sumplog
