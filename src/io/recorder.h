#pragma once
#include <chrono>
#include <condition_variable>
#include <cstddef>
#include <cstdint>
#include <deque>
#include <functional>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <thread>
#include <vector>

#include "core/item/item.h"
#include "core/item/result.h"
#include "io/job_file.h"

namespace sumplog {

struct RecorderOptions {
  /// Items that were submitted and not taken back yet. 65,536 frames are 8 s of two full buses at 500 kbit/s
  /// (8-byte frames of at least 111 bits, ISO 11898-1), some 10 MB.
  std::size_t capacity = 65536;
  /// More room for everything else: what a person enters, deadlines and marks are few, and a job without them says less than
  /// one without a stretch of frames.
  std::size_t reserve = 4096;
  std::chrono::milliseconds sync_every{1000};   ///< frames reach the disk at least so often
  std::chrono::milliseconds retry_after{1000};  ///< pause after a failure of the disk
};

/// The disk worker: the only thread that writes and syncs the job file, with one bounded queue between it and
/// the thread that owns this object (all functions are called from there). An item comes back after its
/// write() returned, as its lines read back, in file order: only then may the core see it. A token comes back
/// after the sync of its item and of everything before it.
/// While the disk refuses to write (full, read-only, gone) the worker keeps the items in memory, in the order in
/// which the file will get them, gives them back meanwhile, and tries again; `capacity` bounds them, and what
/// does not fit is refused: frames first. Seals go by the items' times; only when no item comes for a second the worker seals
/// by itself what stands unsealed.
class Recorder {
 public:
  using Token = std::uint64_t;

  /// in   notify  called from the worker when something can be taken, or the state of the disk changed; it
  /// must only wake
  ///              the owner's thread (asio::post)
  Recorder(JobFile file, std::function<void()> notify, RecorderOptions options = {});
  /// stop() when neither stop() nor close() was called.
  ~Recorder();
  Recorder(const Recorder&) = delete;
  Recorder& operator=(const Recorder&) = delete;

  /// false: there is no room for an item of this kind, or recording has ended; the caller counts the loss.
  [[nodiscard]] bool submit(Item item);
  /// For entries: acknowledged by its token.
  /// err  the queue is full · recording has ended · the item does not read back (its fields are no JSON
  /// object on one line)
  [[nodiscard]] Result<void> submit_synced(Item item, Token token);

  [[nodiscard]] std::vector<Item> take_written();
  /// Tokens whose items are on the disk, in the order of their submission. Their items were given by
  /// take_written() before.
  [[nodiscard]] std::vector<Token> take_synced();
  /// A failure that was not reported before. The same failure again and again is reported once.
  [[nodiscard]] std::optional<Fault> take_fault();
  /// The last try failed: nothing is recorded, or nothing is acknowledged.
  [[nodiscard]] bool failing() const;
  /// What the disk said, while it fails; empty otherwise.
  [[nodiscard]] std::string trouble() const;
  /// Items that were given back and are not in the file: they wait in memory for room on the disk.
  [[nodiscard]] std::size_t kept_in_memory() const;

  /// Writes what is queued, `end` and the closing seal, syncs, and ends the worker. What was written can be
  /// taken afterwards. err  the disk failed: the job stays open and can be resumed; the text says how many
  /// items are lost
  [[nodiscard]] Result<void> close(TimePoint at);
  /// The same without `end`: the job stays open and can be resumed.
  [[nodiscard]] Result<void> stop();

 private:
  struct Queued {
    Item item;
    std::optional<Token> token;
  };
  struct Turn;
  class Worker;

  [[nodiscard]] bool has_room_for(const Item& item) const;
  void run();
  void publish(Turn turn);
  [[nodiscard]] Result<void> finish(std::optional<Item> end);

  const RecorderOptions options_;
  const std::function<void()> notify_;

  mutable std::mutex mutex_;  // guards everything down to the thread
  std::condition_variable wake_;
  std::deque<Queued> queue_;
  std::size_t in_flight_ = 0;  ///< queued, at the worker, or given back and not taken
  std::size_t kept_ = 0;       ///< given back and not written
  std::vector<Item> written_;
  std::vector<Token> synced_;
  std::optional<Fault> fault_;
  bool failing_ = false;
  bool stopping_ = false;
  bool sync_ended_ = false;  ///< the disk is done with a sync, the worker has not looked yet
  std::string told_;         ///< the failure that was told last
  std::optional<Fault>
      last_words_;  ///< the last failure; after the worker's end only when it could not finish

  std::unique_ptr<Worker> worker_;
  std::thread thread_;
};

}  // namespace sumplog
