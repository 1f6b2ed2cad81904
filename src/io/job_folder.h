#pragma once
#include <cstdint>
#include <string>
#include <vector>

#include "core/item/result.h"

namespace sumplog {

/// A job file in a data folder, and by what its changes are noticed.
struct FolderFile {
  std::string name;
  std::uint64_t bytes = 0;
  std::int64_t modified_us = 0;  ///< Unix epoch
};

/// Names of all files that may be jobs (*.log, not hidden), sorted; by their names that is oldest first.
/// err  the folder cannot be read; one that is not there has no jobs
[[nodiscard]] Result<std::vector<std::string>> job_names(const std::string& folder);

/// All files that may be jobs (*.log, not hidden), by name; by their names that is oldest first.
/// err  the folder cannot be read; one that is not there has no jobs
[[nodiscard]] Result<std::vector<FolderFile>> job_folder_files(const std::string& folder);

/// err  no such file
[[nodiscard]] Result<FolderFile> folder_file(const std::string& path);

/// The path from the root, without "." and "..": how folders stand in an index.
[[nodiscard]] std::string absolute_folder(const std::string& folder);

/// This computer's name; "unnamed" where it has none.
[[nodiscard]] std::string computer_name();

}  // namespace sumplog
