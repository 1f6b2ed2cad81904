#include "io/recorder.h"

#include <algorithm>
#include <future>
#include <iterator>
#include <utility>

#include "core/item/item_text.h"

namespace sumplog {
namespace {

using Steady = std::chrono::steady_clock;

constexpr std::size_t kBatch = 4096;  // items in one write(): some 200 kB of frames, a few milliseconds

/// The item as its lines read back; nothing when they do not.
std::optional<Item> read_back(const Item& item) {
  ItemLineParser parser;
  ParsedLine parsed;
  for (const std::string& line : item_lines(item)) {
    if (line.find('\n') != std::string::npos) return std::nullopt;
    parsed = parser.on_line(line);
    if (!parsed.problem.empty()) return std::nullopt;
  }
  return std::move(parsed.item);
}

}  // namespace

/// What one step of the worker brought; published under the lock.
struct Recorder::Turn {
  std::vector<Item> written;  ///< or kept in memory while the disk refuses them
  std::vector<Token> synced;
  std::optional<Fault> fault;
  std::size_t refused = 0;  ///< items that do not read back: a bug elsewhere, told as a fault
};

/// What only the worker's thread touches: the file, the items in hand, and when the disk may be tried again.
class Recorder::Worker {
 public:
  /// `sync_ended`: called from the thread of a sync when the disk is done with it.
  Worker(JobFile file, const RecorderOptions& options, std::function<void()> sync_ended)
      : options_(options),
        file_(std::move(file)),
        sync_ended_(std::move(sync_ended)),
        last_write_(Steady::now()) {}

  void take(Queued one) { batch_.push_back(std::move(one)); }
  [[nodiscard]] std::size_t in_hand() const { return batch_.size(); }
  /// Items given back before they could be written.
  [[nodiscard]] std::size_t kept() const { return kept_; }
  [[nodiscard]] bool failing() const { return write_again_ || sync_again_; }
  [[nodiscard]] bool write_failing() const { return write_again_.has_value(); }
  [[nodiscard]] std::uint64_t unsynced_bytes() const { return file_.bytes() - file_.synced_bytes(); }

  /// When a turn is due though no item comes. Nothing: only an item wakes the worker.
  [[nodiscard]] std::optional<Steady::time_point> due() const {
    std::optional<Steady::time_point> first;
    const auto consider = [&](Steady::time_point at) { first = first ? std::min(*first, at) : at; };
    if (write_again_) {
      consider(*write_again_);
    } else if (!file_.sealed()) {
      consider(last_write_ + options_.sync_every);
    }
    if (disk_works_.valid()) {
      // Its end wakes the worker.
    } else if (sync_again_) {
      consider(*sync_again_);
    } else if (unsynced_bytes() > 0) {
      consider(unsynced_since_ + options_.sync_every);
    }
    return first;
  }

  // in   stopping  try the disk at once, whatever failed before
  //      last      no item will come any more: seal and sync
  [[nodiscard]] Turn write(bool stopping, bool last) {
    Turn turn;
    const auto now = Steady::now();
    if (may_try(write_again_, now, stopping)) {
      const bool done = write_batch(turn, now) && seal_when_idle(turn, now, last);
      write_again_ = done ? std::nullopt : std::optional(Steady::now() + options_.retry_after);
    }
    if (write_again_) keep_in_memory(turn);
    return turn;
  }
  //      ended     the disk is done with the sync that was under way
  [[nodiscard]] Turn sync(bool stopping, bool last, bool ended) {
    Turn turn;
    const auto now = Steady::now();
    if (!may_try(sync_again_, now, stopping)) return turn;
    const bool done = sync_when_due(turn, now, last, ended);
    sync_again_ = done ? std::nullopt : std::optional(Steady::now() + options_.retry_after);
    return turn;
  }

 private:
  [[nodiscard]] static bool may_try(const std::optional<Steady::time_point>& again, Steady::time_point now,
                                    bool stopping) {
    return stopping || !again || now >= *again;
  }

  /// All that is in hand, in pieces of kBatch.
  bool write_batch(Turn& turn, Steady::time_point now) {
    while (!batch_.empty()) {
      std::size_t staged = 0;
      while (staged < std::min(batch_.size(), kBatch)) {
        const auto one = batch_.begin() + static_cast<std::ptrdiff_t>(staged);
        if (auto took = file_.stage(one->item); took) {
          ++staged;
        } else {
          turn.fault = took.error();
          ++turn.refused;
          batch_.erase(one);
        }
      }
      auto written = commit(turn, now);
      if (!written) return false;
      const auto end = batch_.begin() + static_cast<std::ptrdiff_t>(staged);
      for (auto one = batch_.begin(); one != end; ++one)
        if (one->token) tokens_.push_back(*one->token);
      const std::size_t given_before = std::min(kept_, staged);
      std::move(written->begin() + static_cast<std::ptrdiff_t>(given_before), written->end(),
                std::back_inserter(turn.written));
      kept_ -= given_before;
      batch_.erase(batch_.begin(), end);
      last_write_ = now;
    }
    return true;
  }

  /// Gives back what the disk refuses: the file will get it in this order, so a replay shows the same.
  void keep_in_memory(Turn& turn) {
    for (auto one = batch_.begin() + static_cast<std::ptrdiff_t>(kept_); one != batch_.end();) {
      if (auto item = read_back(one->item)) {
        turn.written.push_back(std::move(*item));
        ++kept_;
        ++one;
      } else {
        turn.fault = Fault{"an item cannot be recorded: it has no text", file_.path(), {}};
        ++turn.refused;
        one = batch_.erase(one);
      }
    }
  }

  bool seal_when_idle(Turn& turn, Steady::time_point now, bool at_once) {
    if (file_.sealed() || (!at_once && now - last_write_ < options_.sync_every)) return true;
    file_.stage_seal();
    return commit(turn, now).has_value();
  }

  std::optional<std::vector<Item>> commit(Turn& turn, Steady::time_point now) {
    const bool was_synced = unsynced_bytes() == 0;
    auto written = file_.commit();
    if (!written) {
      turn.fault = std::move(written.error());
      return std::nullopt;
    }
    if (was_synced) unsynced_since_ = now;
    return std::move(*written);
  }

  bool sync_when_due(Turn& turn, Steady::time_point now, bool at_once, bool ended) {
    if (disk_works_.valid()) {
      if (!at_once && !ended) return true;
      auto result = file_.end_sync(disk_works_.get());
      if (!result) {
        tokens_.insert(tokens_.begin(), covered_.begin(), covered_.end());
        covered_.clear();
        turn.fault = std::move(result.error());
        return false;
      }
      turn.synced = std::exchange(covered_, {});
    }
    const bool wanted = at_once || !tokens_.empty() || file_.sync_failed() ||
                        (unsynced_bytes() > 0 && now - unsynced_since_ >= options_.sync_every);
    if (!wanted) return true;
    if (!at_once && !file_.sync_failed()) {
      // A disk may take seconds for this; meanwhile frames are written and the core goes on.
      if (auto begun = file_.begin_sync(); !begun) {
        turn.fault = std::move(begun.error());
        return false;
      }
      covered_ = std::exchange(tokens_, {});
      unsynced_since_ = now;
      disk_works_ = std::async(std::launch::async, [this] {
        const int error = file_.run_sync();
        sync_ended_();
        return error;
      });
      return true;
    }
    auto synced = file_.sync_failed() ? file_.recover_after_failed_sync() : file_.sync();
    if (!synced) {
      turn.fault = std::move(synced.error());
      return false;
    }
    turn.synced.insert(turn.synced.end(), tokens_.begin(), tokens_.end());
    tokens_.clear();
    return true;
  }

  const RecorderOptions& options_;
  JobFile file_;
  std::function<void()> sync_ended_;
  std::deque<Queued> batch_;    ///< taken from the queue, not written yet
  std::size_t kept_ = 0;        ///< so many of its first were given back already
  std::vector<Token> tokens_;   ///< written, and not covered by the sync that is under way
  std::vector<Token> covered_;  ///< by that sync
  Steady::time_point last_write_;
  Steady::time_point unsynced_since_{};
  std::optional<Steady::time_point> write_again_;  ///< set while writing fails
  std::optional<Steady::time_point>
      sync_again_;  ///< set while syncing fails; items still go through to the core
  std::future<int>
      disk_works_;  ///< valid while a sync is under way; last, so that it ends before the file does
};

Recorder::Recorder(JobFile file, std::function<void()> notify, RecorderOptions options)
    : options_(options),
      notify_(std::move(notify)),
      worker_(std::make_unique<Worker>(std::move(file), options_, [this] {
        {
          const std::lock_guard lock(mutex_);
          sync_ended_ = true;
        }
        wake_.notify_one();
      })) {
  thread_ = std::thread([this] { run(); });
}

Recorder::~Recorder() {
  // Whoever wants to know how the job ended calls stop() or close() before.
  if (thread_.joinable()) (void)stop();
}

void Recorder::publish(Turn turn) {
  bool news = false;
  {
    const std::lock_guard lock(mutex_);
    news = !turn.written.empty() || !turn.synced.empty() || failing_ != worker_->failing();
    std::move(turn.written.begin(), turn.written.end(), std::back_inserter(written_));
    synced_.insert(synced_.end(), turn.synced.begin(), turn.synced.end());
    in_flight_ -= turn.refused;
    kept_ = worker_->kept();
    failing_ = worker_->failing();
    if (!failing_) told_.clear();
    if (turn.fault && turn.fault->text() != told_) {
      told_ = turn.fault->text();
      fault_ = turn.fault;
      news = true;
    }
    if (turn.fault) last_words_ = std::move(turn.fault);
  }
  if (news && notify_) notify_();
}

void Recorder::run() {
  std::unique_lock lock(mutex_);
  for (;;) {
    const auto has_work = [this] { return stopping_ || sync_ended_ || !queue_.empty(); };
    if (const auto due = worker_->due()) {
      wake_.wait_until(lock, *due, has_work);
    } else {
      wake_.wait(lock, has_work);
    }
    while (!queue_.empty() && (worker_->write_failing() || worker_->in_hand() < kBatch)) {
      worker_->take(std::move(queue_.front()));
      queue_.pop_front();
    }
    const bool sync_ended = std::exchange(sync_ended_, false);
    const bool stopping = stopping_;
    const bool last = stopping && queue_.empty();
    lock.unlock();
    // What is written goes to the core before the sync, which may take long.
    publish(worker_->write(stopping, last));
    publish(worker_->sync(stopping, last, sync_ended));
    lock.lock();
    if (last || (stopping && worker_->write_failing())) break;
  }
  if (!worker_->failing()) {
    last_words_.reset();
    return;
  }
  const std::size_t lost = worker_->in_hand() + queue_.size();
  last_words_->what += "; " + std::to_string(lost) + " items are not in the file, " +
                       std::to_string(worker_->unsynced_bytes()) + " bytes are perhaps not on the disk";
}

/// A count of losses waits with the frames: each frame that is refused brings another one.
bool Recorder::has_room_for(const Item& item) const {
  const bool may_be_many =
      std::holds_alternative<CanFrame>(item) || std::holds_alternative<ReceiveDrops>(item);
  return in_flight_ + kept_ < options_.capacity + (may_be_many ? 0 : options_.reserve);
}

bool Recorder::submit(Item item) {
  {
    const std::lock_guard lock(mutex_);
    if (stopping_ || !has_room_for(item)) return false;
    ++in_flight_;
    queue_.push_back({std::move(item), std::nullopt});
  }
  wake_.notify_one();
  return true;
}

Result<void> Recorder::submit_synced(Item item, Token token) {
  if (!read_back(item))
    return fault("the entry cannot be recorded: its fields are not one JSON object on one line");
  {
    const std::lock_guard lock(mutex_);
    if (stopping_) return fault("recording has ended");
    if (!has_room_for(item))
      return fault("the disk is too slow: too much waits to be recorded", {}, "try again");
    ++in_flight_;
    queue_.push_back({std::move(item), token});
  }
  wake_.notify_one();
  return {};
}

std::vector<Item> Recorder::take_written() {
  const std::lock_guard lock(mutex_);
  in_flight_ -= written_.size();
  return std::exchange(written_, {});
}

std::vector<Recorder::Token> Recorder::take_synced() {
  const std::lock_guard lock(mutex_);
  return std::exchange(synced_, {});
}

std::optional<Fault> Recorder::take_fault() {
  const std::lock_guard lock(mutex_);
  return std::exchange(fault_, std::nullopt);
}

bool Recorder::failing() const {
  const std::lock_guard lock(mutex_);
  return failing_;
}

std::string Recorder::trouble() const {
  const std::lock_guard lock(mutex_);
  return failing_ ? told_ : std::string();
}

std::size_t Recorder::kept_in_memory() const {
  const std::lock_guard lock(mutex_);
  return kept_;
}

Result<void> Recorder::close(TimePoint at) {
  return finish(End{at});
}

Result<void> Recorder::stop() {
  return finish(std::nullopt);
}

Result<void> Recorder::finish(std::optional<Item> end) {
  if (!thread_.joinable()) return fault("recording has ended already");
  {
    const std::lock_guard lock(mutex_);
    if (end) {
      ++in_flight_;
      queue_.push_back({std::move(*end), std::nullopt});
    }
    stopping_ = true;
  }
  wake_.notify_one();
  thread_.join();
  worker_.reset();  // the file is closed, its lock is free
  if (last_words_) return tl::unexpected(*last_words_);
  return {};
}

}  // namespace sumplog
