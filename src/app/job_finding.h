#pragma once
#include <string>
#include <vector>

#include "app/program_settings.h"
#include "core/item/result.h"

namespace sumplog {

/// The job files of a folder, oldest first (their names begin with their time).
/// err  the folder cannot be read; one that is not there has no jobs
[[nodiscard]] Result<std::vector<std::string>> job_files(const std::string& folder);

/// The id in the opening line of a job file.
/// err  it cannot be read, or is no job file
[[nodiscard]] Result<std::string> job_id_of(const std::string& path);

/// The file of a job as a person names it: a path, or the beginning of an id or of a file's name in the data folder that only one
/// job has.
/// err  none has it, or several: they are named
[[nodiscard]] Result<std::string> find_job(const ProgramSettings& settings, const std::string& job);

}  // namespace sumplog
