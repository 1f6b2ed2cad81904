#include "io/index_rebuild.h"

#include <algorithm>
#include <condition_variable>
#include <deque>
#include <filesystem>
#include <map>
#include <mutex>
#include <optional>
#include <thread>
#include <utility>
#include <vector>

#include "io/job_folder.h"

namespace sumplog {
namespace {

constexpr std::size_t kJobsAtOnce = 64;  // in one transaction
constexpr std::size_t kReadAhead = 128;  // jobs that wait for the writer
constexpr std::uint64_t kProgressEvery = 100;

/// Reads files on several threads, in no particular order; what is read waits for take().
class Readers {
 public:
  Readers(const std::vector<std::string>& paths, const IndexLook& look, unsigned threads)
      : paths_(paths), look_(look) {
    for (unsigned i = 0; i < threads; ++i) threads_.emplace_back([this] { run(); });
  }
  ~Readers() {
    {
      const std::lock_guard lock(mutex_);
      stopping_ = true;
    }
    room_.notify_all();
    for (std::thread& one : threads_) one.join();
  }
  Readers(const Readers&) = delete;
  Readers& operator=(const Readers&) = delete;

  /// The next one that is read. out  nothing: all of them were taken
  std::optional<std::pair<std::string, Result<IndexedJob>>> take() {
    std::unique_lock lock(mutex_);
    if (taken_ == paths_.size()) return std::nullopt;
    ready_.wait(lock, [this] { return !read_.empty(); });
    auto one = std::move(read_.front());
    read_.pop_front();
    ++taken_;
    room_.notify_one();
    return one;
  }

 private:
  /// A file costs itself only, whatever is in it.
  [[nodiscard]] Result<IndexedJob> look(const std::string& path) const {
    try {
      return look_(path);
    } catch (const std::exception& error) {
      return fault(std::string("cannot be read: ") + error.what(), path);
    }
  }
  void run() {
    std::unique_lock lock(mutex_);
    while (!stopping_ && next_ < paths_.size()) {
      if (next_ - taken_ >= kReadAhead) {
        room_.wait(lock);
        continue;
      }
      const std::string& path = paths_[next_++];
      lock.unlock();
      Result<IndexedJob> job = look(path);
      lock.lock();
      read_.emplace_back(path, std::move(job));
      ready_.notify_one();
    }
  }

  const std::vector<std::string>& paths_;
  const IndexLook& look_;
  std::mutex mutex_;  // guards what follows, but for the threads
  std::condition_variable ready_;
  std::condition_variable room_;
  std::deque<std::pair<std::string, Result<IndexedJob>>> read_;
  std::size_t next_ = 0;
  std::size_t taken_ = 0;
  bool stopping_ = false;
  std::vector<std::thread> threads_;
};

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
      ++count.known;
      kept.emplace(there->second->id, file.name);
      continue;
    }
    paths.push_back((std::filesystem::path(options.folder) / file.name).string());
  }

  Batches batches(index, kept, tell);
  {
    const unsigned threads =
        options.threads != 0 ? options.threads : std::max(1U, std::thread::hardware_concurrency());
    Readers readers(
        paths, look,
        static_cast<unsigned>(std::min<std::size_t>(threads, std::max<std::size_t>(paths.size(), 1))));
    std::uint64_t done = 0;
    while (auto read = readers.take()) {
      if (!read->second) {
        ++count.skipped;
        tell(read->second.error());
      } else {
        auto added = batches.add(std::move(*read->second), read->first);
        if (!added) return tl::unexpected(added.error());
        ++(*added ? count.indexed : count.skipped);
      }
      const bool told = ++done % kProgressEvery == 0 || done == paths.size();
      if (told && !progress(done, paths.size())) {
        if (auto written = batches.write(); !written) return tl::unexpected(written.error());
        return count;
      }
    }
  }
  if (auto written = batches.write(); !written) return tl::unexpected(written.error());

  std::vector<std::string> gone;
  for (const KnownFile& one : *known)
    if (!batches.file_of().contains(one.id)) gone.push_back(one.id);
  if (auto removed = index.remove(gone); !removed) return tl::unexpected(removed.error());
  count.removed = gone.size();
  return count;
}

}  // namespace sumplog
