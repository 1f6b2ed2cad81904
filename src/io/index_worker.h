#pragma once
#include <chrono>
#include <condition_variable>
#include <cstddef>
#include <deque>
#include <functional>
#include <mutex>
#include <optional>
#include <string>
#include <thread>

#include "io/index_rebuild.h"
#include "io/job_index.h"

namespace sumplog {

struct IndexWorkerOptions {
  std::string folder;  ///< absolute
  std::string bay;
  std::size_t capacity = 256;  ///< files that wait; more are found by looking through the folder
  std::chrono::milliseconds first_pause{
      1000};  ///< before the next try when the database is away, then twice as long
  std::chrono::milliseconds longest_pause{60000};
  std::chrono::milliseconds follow_every{300000};  ///< how often a job that is being recorded is read again
};

/// Keeps the index up to date beside a program that records: a thread of its own, fed with paths of job files. It never holds up
/// whoever feeds it. While the database is away it tries again and again; what was not entered by then is found at the next start,
/// because every file that differs from what the index knows of it is read then.
class IndexWorker {
 public:
  /// in   tell  called from the worker: what went wrong, the same once; an empty `what` when the index is reached again
  IndexWorker(IndexPlace place, IndexLook look, std::function<void(const Fault&)> tell,
              IndexWorkerOptions options);
  /// stop() with no time.
  ~IndexWorker();
  IndexWorker(const IndexWorker&) = delete;
  IndexWorker& operator=(const IndexWorker&) = delete;

  /// This file changed.
  void enqueue(std::string path);
  /// This file is being recorded: it is read now and then. Empty: none is any more.
  void follow(std::string path);
  /// Ends when everything that was fed is entered, at the latest after `patience`.
  /// out  whether it was
  bool stop(std::chrono::milliseconds patience);

 private:
  void run();
  [[nodiscard]] Result<void> catch_up(JobIndex& index);
  [[nodiscard]] Result<void> enter(JobIndex& index, const std::string& path);
  void told(const Fault& fault);

  const IndexPlace place_;
  const IndexLook look_;
  const std::function<void(const Fault&)> tell_;
  const IndexWorkerOptions options_;
  std::string last_told_;  ///< of the worker alone

  std::mutex mutex_;  // guards what follows, but for the thread
  std::condition_variable wake_;
  std::condition_variable idle_;
  std::deque<std::string> queue_;
  bool look_through_ = true;  ///< the folder is to be looked through
  bool working_ = false;
  std::string followed_;
  bool stopping_ = false;
  std::thread thread_;
};

}  // namespace sumplog
