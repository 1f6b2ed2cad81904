#pragma once
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "core/item/item.h"
#include "core/item/result.h"
#include "io/durable_file.h"
#include "io/job_scan.h"
#include "io/sha256.h"

namespace sumplog {

struct CreatedJob;
struct ResumedJob;

/// One job's file, open for the one process that may write to it. Lines are only ever added.
/// Every item is staged and committed: one write() for all that is staged, all of it or nothing. A seal's
/// line is staged before the first item of another second of job time, and directly after an `end` item. Not
/// for several threads. src  docs/job_file.md
class JobFile {
 public:
  /// Most bytes that may wait for their sync; they are kept in memory, because a failed fsync may lose them
  /// on the disk.
  static constexpr std::size_t kMaxUnsynced = 16U << 20;

  /// Makes a new job file, its folder too. It gets its name when it is whole and synced: a half-made one
  /// never stays. in   path    nothing has this name yet
  ///      header  settings first, then the text of every decoder and service file
  /// err  the name is taken · the disk · an item that does not read back
  [[nodiscard]] static Result<CreatedJob> create(const std::string& path, std::span<const Item> header,
                                                 DiskCalls calls = {});

  /// Opens a job that was stopped, reads all of it, and mends its end: a fragment gets its newline and a
  /// `torn` item after it; a closing that was interrupted is finished. The caller records `resume` next,
  /// after replaying the file. in   now  job time, for the items that mend the end err  another process holds
  /// it · it is closed · it is no job file · the disk
  [[nodiscard]] static Result<ResumedJob> resume(const std::string& path, TimePoint now,
                                                 DiskCalls calls = {});

  /// True while another process (or another JobFile) writes to this job.
  [[nodiscard]] static bool is_held(const std::string& path);

  /// Takes one item for the next commit.
  /// err  its text does not read back as an item: nothing is staged
  [[nodiscard]] Result<void> stage(const Item& item);
  /// Takes a seal for the next commit, when something stands after the last one.
  void stage_seal();
  /// Writes what is staged.
  /// out  the items, each as its lines read back: what the core gets
  /// err  the disk: nothing of it stays in the file, nothing is staged any more; stage it again later
  [[nodiscard]] Result<std::vector<Item>> commit();
  /// commit() of these items.
  [[nodiscard]] Result<std::vector<Item>> append(std::span<const Item> items);

  /// Everything that is committed is on the disk when this succeeds. After one failure it fails until
  /// recover_after_failed_sync() succeeded: a later fsync may say "done" about bytes that the kernel gave up.
  [[nodiscard]] Result<void> sync();
  /// The same in three steps, so that writing goes on while the disk works: run_sync() may be called from another thread, and
  /// between the first and the last step lines may be committed, which then wait for the next sync.
  [[nodiscard]] Result<void> begin_sync();
  /// out  0, or the errno of fdatasync
  [[nodiscard]] int run_sync() const;
  [[nodiscard]] Result<void> end_sync(int error);
  /// Writes a copy (synced part from the disk, checked against its hash; the rest from memory), syncs it and
  /// puts it in the place of the file, with the lock.
  [[nodiscard]] Result<void> recover_after_failed_sync();

  [[nodiscard]] const std::string& path() const { return path_; }
  [[nodiscard]] std::uint64_t bytes() const { return written_.bytes; }
  [[nodiscard]] std::uint64_t synced_bytes() const { return synced_.bytes; }
  [[nodiscard]] bool sync_failed() const { return sync_failed_; }
  /// False while a committed line stands after the last seal.
  [[nodiscard]] bool sealed() const { return written_.sealed; }
  /// SHA-256 of all committed bytes.
  [[nodiscard]] std::string sha256() const { return written_.hash.hex(); }

 private:
  /// How far the file has come: at the last commit, and with what is staged.
  struct State {
    Sha256 hash;
    std::uint64_t bytes = 0;
    std::optional<TimePoint> last_at;  ///< of the last item
    std::optional<TimePoint> latest;   ///< of any item
    bool sealed = true;
  };

  JobFile(std::string path, FileDescriptor file, DiskCalls calls);
  void stage_line(std::string_view line);
  void discard();
  [[nodiscard]] Result<void> write_staged();
  [[nodiscard]] Result<void> cut_half_line();
  [[nodiscard]] Result<void> mend(const JobShape& shape, TimePoint now);
  [[nodiscard]] Result<void> only_our_past_is_named() const;
  [[nodiscard]] Result<void> replace_by_copy();

  std::string path_;
  FileDescriptor file_;
  DiskCalls calls_;
  State written_;
  State staged_;
  State synced_;
  State syncing_;  ///< what the sync that was begun covers
  std::string staged_text_;
  std::vector<Item> staged_items_;
  std::string unsynced_;    ///< the bytes from synced_.bytes to written_.bytes
  bool half_line_ = false;  ///< a failed write left bytes behind written_.bytes
  bool sync_failed_ = false;
};

struct CreatedJob {
  JobFile file;
  std::vector<Item> header;  ///< as its lines read back
};

struct ResumedJob {
  JobFile file;
  std::optional<std::uint64_t> torn_bytes;  ///< a fragment of this length was ended
  std::optional<LineRange> changed;         ///< a seal before does not fit: `verify` will say so for good
};

}  // namespace sumplog
