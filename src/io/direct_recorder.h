#pragma once
#include <cstddef>

#include "core/item/item.h"
#include "core/item/result.h"
#include "io/job_file.h"

namespace sumplog {

/// Records in the caller's own thread, for virtual time (demo, tests): nothing here asks a clock, seals go by
/// the items' times. The file is that of the Recorder, byte for byte but for the places of seals.
class DirectRecorder {
 public:
  /// Own choice: a job of a day in virtual time holds no more memory than one of an hour, and few syncs slow it down.
  static constexpr std::size_t kMaxUnsynced = 1U << 20;  // bytes

  explicit DirectRecorder(JobFile file);

  /// Writes one item; it is on the disk at the latest kMaxUnsynced bytes later, or after close().
  /// out  the item as its lines read back: what the core gets
  /// err  the disk, or an item that does not read back: it is not in the file
  [[nodiscard]] Result<Item> record(const Item& item);
  /// Everything recorded so far is on the disk.
  [[nodiscard]] Result<void> sync();
  /// Records `end`, seals and syncs. Nothing can be recorded after it.
  [[nodiscard]] Result<Item> close(TimePoint at);

  [[nodiscard]] const JobFile& file() const { return file_; }

 private:
  JobFile file_;
};

}  // namespace sumplog
