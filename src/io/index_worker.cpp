#include "io/index_worker.h"

#include <algorithm>
#include <utility>

namespace sumplog {

IndexWorker::IndexWorker(IndexPlace place, IndexLook look, std::function<void(const Fault&)> tell,
                         IndexWorkerOptions options)
    : place_(std::move(place)),
      look_(std::move(look)),
      tell_(std::move(tell)),
      options_(std::move(options)),
      thread_([this] { run(); }) {}

IndexWorker::~IndexWorker() {
  (void)stop(std::chrono::milliseconds(0));
}

void IndexWorker::enqueue(std::string path) {
  {
    const std::lock_guard lock(mutex_);
    if (std::find(queue_.begin(), queue_.end(), path) != queue_.end()) return;
    if (queue_.size() < options_.capacity)
      queue_.push_back(std::move(path));
    else
      look_through_ = true;
  }
  wake_.notify_one();
}

void IndexWorker::follow(std::string path) {
  {
    const std::lock_guard lock(mutex_);
    followed_ = path;
  }
  if (!path.empty()) enqueue(std::move(path));
}

bool IndexWorker::stop(std::chrono::milliseconds patience) {
  bool entered = true;
  {
    std::unique_lock lock(mutex_);
    if (!stopping_)
      entered =
          idle_.wait_for(lock, patience, [this] { return queue_.empty() && !look_through_ && !working_; });
    stopping_ = true;
  }
  wake_.notify_one();
  if (thread_.joinable()) thread_.join();
  return entered;
}

void IndexWorker::told(const Fault& fault) {
  std::string text = fault.text();
  if (text == last_told_) return;
  last_told_ = std::move(text);
  tell_(fault);
}

Result<void> IndexWorker::catch_up(JobIndex& index) {
  RebuildOptions rebuild{options_.folder, options_.bay, 1, false};
  auto done = rebuild_index(index, rebuild, look_, tell_, [this](std::uint64_t, std::uint64_t) {
    const std::lock_guard lock(mutex_);
    return !stopping_;
  });
  if (!done) return tl::unexpected(done.error());
  return {};
}

Result<void> IndexWorker::enter(JobIndex& index, const std::string& path) {
  auto job = look_(path);
  if (!job) {
    tell_(job.error());  // the file is at fault, not the index: it is not tried again
    return {};
  }
  return index.put({&*job, 1});
}

void IndexWorker::run() {
  std::optional<JobIndex> index;
  auto pause = options_.first_pause;
  std::unique_lock lock(mutex_);
  while (!stopping_) {
    if (queue_.empty() && !look_through_) {
      idle_.notify_all();
      const bool woken = wake_.wait_for(lock, options_.follow_every,
                                        [this] { return stopping_ || look_through_ || !queue_.empty(); });
      if (!woken && !followed_.empty()) queue_.push_back(followed_);
      continue;
    }
    const bool through = look_through_;
    std::string path;
    if (!through) {
      path = std::move(queue_.front());
      queue_.pop_front();
    }
    look_through_ = false;
    working_ = true;
    lock.unlock();

    Result<void> done;
    if (!index) {
      auto opened = JobIndex::open(place_);
      if (opened)
        index.emplace(std::move(*opened));
      else
        done = tl::unexpected(opened.error());
    }
    if (done) done = through ? catch_up(*index) : enter(*index, path);
    if (done && !last_told_.empty()) {
      last_told_.clear();
      tell_(Fault{"", place_.shown(), ""});
    }
    if (!done) told(done.error());

    lock.lock();
    working_ = false;
    if (done) {
      pause = options_.first_pause;
      continue;
    }
    index.reset();
    if (through)
      look_through_ = true;
    else
      queue_.push_front(std::move(path));
    wake_.wait_for(lock, pause, [this] { return stopping_; });
    pause = std::min(pause * 2, options_.longest_pause);
  }
}

}  // namespace sumplog
