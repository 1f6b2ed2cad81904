#pragma once
#include <condition_variable>
#include <cstdint>
#include <deque>
#include <functional>
#include <mutex>
#include <string>
#include <string_view>
#include <thread>

#include "core/item/result.h"
#include "io/durable_file.h"

namespace sumplog {

/// A photo that lies beside its job file, on the disk for good.
struct StoredPhoto {
  std::string file;  ///< its name, without the folder
  std::string sha256;
  std::uint64_t bytes = 0;
  std::string type;  ///< "image/jpeg", by its content
  /// The fields of its entry (docs/entries.md). in  of, by  what it shows and who took it; empty: not said
  [[nodiscard]] std::string fields(std::string_view of, std::string_view by) const;
};

/// Writes a photo beside the job, whole and synced before it has its name: JOB-<12 digits of its SHA-256>.jpg. The same bytes
/// again are the same photo.
/// err  neither JPEG nor PNG nor WebP · the disk
[[nodiscard]] Result<StoredPhoto> store_photo(const std::string& job_path, std::string_view bytes,
                                              const DiskCalls& calls = {});

/// Stores photos on a thread of its own: a disk may take seconds, and the bus does not wait.
class PhotoStore {
 public:
  using Done = std::function<void(Result<StoredPhoto>)>;
  /// in   deliver  called from the worker; it must run what it is given on the owner's thread
  explicit PhotoStore(std::function<void(std::function<void()>)> deliver);
  /// Ends after what is queued.
  ~PhotoStore();
  PhotoStore(const PhotoStore&) = delete;
  PhotoStore& operator=(const PhotoStore&) = delete;

  /// The server lets few of these in at a time, so nothing bounds the queue here.
  void store(std::string job_path, std::string bytes, Done done);

 private:
  struct Task {
    std::string job_path;
    std::string bytes;
    Done done;
  };
  void run();

  std::function<void(std::function<void()>)> deliver_;
  std::mutex mutex_;  // guards the two below
  std::deque<Task> tasks_;
  bool ending_ = false;
  std::condition_variable wake_;
  std::thread thread_;
};

}  // namespace sumplog
