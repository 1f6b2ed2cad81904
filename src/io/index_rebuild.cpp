#include "io/index_rebuild.h"

#include <algorithm>
#include <exception>
#include <filesystem>
#include <map>
#include <optional>
#include <set>
#include <utility>
#include <vector>

#include "io/job_folder.h"
#include "io/side_by_side.h"

namespace sumplog {
namespace {

constexpr std::size_t kJobsAtOnce = 64;  // in one transaction

/// A file costs itself only, whatever is in it.
Result<IndexedJob> look_at(const IndexLook& look, const std::string& path) {
  try {
    return look(path);
  } catch (const std::exception& error) {
    return fault(std::string("cannot be read: ") + error.what(), path);
  }
}

/// Writes jobs some at a time; keeps of two with one id the one whose file comes first.
class Batches {
 public:
  Batches(JobIndex& index, const std::map<std::string, std::string>& kept,
          const std::function<void(const Fault&)>& tell)
      : index_(index), file_of_(kept), tell_(tell) {}

  /// out  false: the job is another file's
  Result<bool> add(IndexedJob job, const std::string& path) {
    const auto [first, is_new] = file_of_.emplace(job.id, job.file);
    if (!is_new && first->second != job.file) {
      const bool earlier = job.file < first->second;
      const std::string& loser = earlier ? first->second : job.file;
      tell_(Fault{"is the same job as " + (earlier ? job.file : first->second),
                  (std::filesystem::path(path).parent_path() / loser).string(), "remove one of the two"});
      if (!earlier) return false;
      first->second = job.file;
      std::erase_if(waiting_, [&](const IndexedJob& one) { return one.id == job.id; });
      waiting_.push_back(std::move(job));
      return false;  // one file of the two was counted already
    }
    waiting_.push_back(std::move(job));
    if (waiting_.size() < kJobsAtOnce) return true;
    if (auto written = write(); !written) return tl::unexpected(written.error());
    return true;
  }
  Result<void> write() {
    if (waiting_.empty()) return {};
    auto done = index_.put(waiting_);
    waiting_.clear();
    return done;
  }
  [[nodiscard]] const std::map<std::string, std::string>& file_of() const { return file_of_; }

 private:
  JobIndex& index_;
  std::map<std::string, std::string> file_of_;  ///< by job id
  const std::function<void(const Fault&)>& tell_;
  std::vector<IndexedJob> waiting_;
};

}  // namespace

Result<RebuildCount> rebuild_index(JobIndex& index, const RebuildOptions& options, const IndexLook& look,
                                   const std::function<void(const Fault&)>& tell,
                                   const std::function<bool(std::uint64_t, std::uint64_t)>& progress) {
  const auto files = job_folder_files(options.folder);
  if (!files) return tl::unexpected(files.error());
  const auto known = index.known_files(options.bay, options.folder);
  if (!known) return tl::unexpected(known.error());

  RebuildCount count;
  count.files = files->size();
  std::map<std::string, const KnownFile*> by_name;
  for (const KnownFile& one : *known) by_name[one.file] = &one;
  std::vector<std::string> paths;
  std::map<std::string, std::string> kept;  // job id, file: as the index has them
  for (const FolderFile& file : *files) {
    const auto there = by_name.find(file.name);
    if (!options.all && there != by_name.end() && there->second->bytes == file.bytes &&
        there->second->modified_us == file.modified_us) {
      kept.emplace(there->second->id, file.name);
      continue;
    }
    paths.push_back((std::filesystem::path(options.folder) / file.name).string());
  }

  Batches batches(index, kept, tell);
  std::optional<Fault> failed;
  std::set<std::string> unread;
  bool stopped = false;
  std::uint64_t done = 0;
  const auto take = [&](Result<IndexedJob> job) {
    const std::string& path = paths[done++];
    if (!job) {
      ++count.skipped;
      unread.insert(std::filesystem::path(path).filename().string());
      tell(job.error());
    } else if (auto added = batches.add(std::move(*job), path); added) {
      ++(*added ? count.indexed : count.skipped);
    } else {
      failed = added.error();
      return false;
    }
    stopped = !progress(done, paths.size());
    return !stopped;
  };
  side_by_side(
      paths, [&](const std::string& path) { return look_at(look, path); }, take, options.at_once);
  if (failed) return tl::unexpected(*failed);
  if (auto written = batches.write(); !written) return tl::unexpected(written.error());
  if (stopped) return count;

  std::vector<std::string> gone;
  for (const KnownFile& one : *known)
    if (!batches.file_of().contains(one.id) && !unread.contains(one.file)) gone.push_back(one.id);
  if (auto removed = index.remove(gone); !removed) return tl::unexpected(removed.error());
  count.removed = gone.size();
  return count;
}

}  // namespace sumplog
