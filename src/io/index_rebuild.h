#pragma once
#include <cstdint>
#include <functional>
#include <string>

#include "core/item/result.h"
#include "io/job_index.h"

namespace sumplog {

/// Reads one job file for the index. Called from several threads at once.
/// err  not a job file, or one that cannot be read
using IndexLook = std::function<Result<IndexedJob>(const std::string& path)>;

struct RebuildOptions {
  std::string folder;  ///< absolute
  std::string bay;
  std::size_t at_once = 0;  ///< files that are read at the same time; 0: as the computer has processors for
  bool all = true;          ///< false: only files that differ from what the index knows of them
};

struct RebuildCount {
  std::uint64_t files = 0;
  std::uint64_t indexed = 0;
  std::uint64_t skipped = 0;  ///< named to `tell`
  std::uint64_t removed = 0;  ///< jobs of this bay and folder whose file is gone
};

/// Makes the rows of one folder from its job files: several threads read and replay, the caller's thread writes. Doing it again
/// changes nothing. A file that cannot be read is told and passed over, and what the index has of it stays; of two files with one job id the first by name counts.
/// in   tell      a file that was skipped, or has something wrong
///      progress  files done so far, after each; from the caller's thread. false: stop, and leave the rest for the next time
/// err  the folder, or the index; what was written before stays
[[nodiscard]] Result<RebuildCount> rebuild_index(
    JobIndex& index, const RebuildOptions& options, const IndexLook& look,
    const std::function<void(const Fault&)>& tell,
    const std::function<bool(std::uint64_t done, std::uint64_t of)>& progress);

}  // namespace sumplog
