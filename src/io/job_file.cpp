#include "io/job_file.h"

#include <fcntl.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <chrono>
#include <thread>
#include <utility>

#include "core/item/item_text.h"

namespace sumplog {
namespace {

constexpr int kOpenAttempts = 10;  // the file is replaced under our hands only while its writer recovers
constexpr auto kOpenPause = std::chrono::milliseconds(10);  // somebody may just look whether it is held

std::int64_t second_of(TimePoint at) {
  return std::chrono::floor<std::chrono::seconds>(at).time_since_epoch().count();
}

Result<FileDescriptor> open_and_lock(const std::string& path) {
  bool busy = false;
  for (int attempt = 0; attempt < kOpenAttempts; ++attempt) {
    FileDescriptor file(::open(path.c_str(), O_RDWR | O_APPEND | O_CLOEXEC | O_NONBLOCK));
    if (!file) return tl::unexpected(disk_fault(errno, "cannot open the job", path));
    struct stat status {};
    if (::fstat(file.get(), &status) != 0)
      return tl::unexpected(disk_fault(errno, "cannot read the job", path));
    if (!S_ISREG(status.st_mode)) return fault("not a regular file", path, "name a job file");
    const auto lock = take_lock(file, path);
    if (!lock) return tl::unexpected(lock.error());
    switch (*lock) {
      case Lock::taken: return file;
      case Lock::busy: busy = true; break;
      case Lock::moved: busy = false; break;
    }
    std::this_thread::sleep_for(kOpenPause);
  }
  if (busy)
    return fault("another sumplog holds this job", path,
                 "stop it, or give the entry to it: a running `serve` takes entries");
  return fault("the job is being replaced all the time", path, "stop what replaces it");
}

}  // namespace

JobFile::JobFile(std::string path, FileDescriptor file, DiskCalls calls)
    : path_(std::move(path)), file_(std::move(file)), calls_(std::move(calls)) {}

// --- staging and committing ---

void JobFile::stage_line(std::string_view line) {
  const std::size_t start = staged_text_.size();
  staged_text_ += line;
  staged_text_ += '\n';
  const std::string_view whole = std::string_view(staged_text_).substr(start);
  staged_.hash.update(whole);
  staged_.bytes += whole.size();
}

void JobFile::stage_seal() {
  if (staged_.sealed) return;
  stage_line(seal_line(Seal{staged_.last_at.value_or(TimePoint{}), staged_.bytes, staged_.hash.hex()}));
  staged_.sealed = true;
}

Result<void> JobFile::stage(const Item& item) {
  const std::vector<std::string> lines = item_lines(item);
  ItemLineParser parser;
  std::optional<Item> read_back;
  std::string problem;
  for (const std::string& line : lines) {
    if (line.find('\n') != std::string::npos) problem = "a newline stands in its text";
    ParsedLine parsed = parser.on_line(line);
    if (!parsed.problem.empty()) problem = std::move(parsed.problem);
    read_back = std::move(parsed.item);
  }
  if (!problem.empty() || !read_back)
    return fault("an item cannot be recorded: " + (problem.empty() ? "it has no text" : problem), path_);

  const TimePoint at = time_of(*read_back);
  if (staged_.latest && second_of(at) > second_of(*staged_.latest)) stage_seal();
  for (const std::string& line : lines) stage_line(line);
  staged_.last_at = at;
  staged_.latest = std::max(staged_.latest.value_or(at), at);
  staged_.sealed = false;
  if (std::holds_alternative<End>(*read_back)) stage_seal();
  staged_items_.push_back(std::move(*read_back));
  return {};
}

void JobFile::discard() {
  staged_ = written_;
  staged_text_.clear();
  staged_items_.clear();
}

Result<std::vector<Item>> JobFile::commit() {
  if (staged_text_.empty()) return std::vector<Item>{};
  if (auto done = write_staged(); !done) {
    discard();
    return tl::unexpected(done.error());
  }
  unsynced_ += staged_text_;
  written_ = staged_;
  staged_text_.clear();
  return std::exchange(staged_items_, {});
}

Result<std::vector<Item>> JobFile::append(std::span<const Item> items) {
  for (const Item& item : items) {
    if (auto staged = stage(item); !staged) {
      discard();
      return tl::unexpected(staged.error());
    }
  }
  return commit();
}

Result<void> JobFile::cut_half_line() {
  if (!half_line_) return {};
  if (calls_.truncate(file_.get(), static_cast<off_t>(written_.bytes)) != 0)
    return tl::unexpected(disk_fault(errno, "cannot cut a half-written line", path_));
  half_line_ = false;
  return {};
}

Result<void> JobFile::write_staged() {
  if (auto cut = cut_half_line(); !cut) return cut;
  if (!unsynced_.empty() && unsynced_.size() + staged_text_.size() > kMaxUnsynced) {
    if (auto synced = sync(); !synced) return synced;
  }
  auto done = write_all(file_, staged_text_, calls_, path_);
  if (!done) {
    half_line_ = true;
    // When this fails too, the next commit tries again; a program that ends before leaves a torn line, which
    // resume() mends.
    (void)cut_half_line();
  }
  return done;
}

// --- syncing ---

Result<void> JobFile::sync() {
  if (auto begun = begin_sync(); !begun) return begun;
  return end_sync(run_sync());
}

Result<void> JobFile::begin_sync() {
  if (sync_failed_)
    return fault("an earlier sync failed; nothing is safe until a synced copy is in place", path_);
  if (!is_named(file_, path_)) {
    sync_failed_ = true;
    return fault("the job file was removed while it was recorded, or its disk was taken away", path_,
                 "a copy is put in its place");
  }
  syncing_ = written_;
  return {};
}

int JobFile::run_sync() const {
  while (calls_.sync_data(file_.get()) != 0)
    if (errno != EINTR) return errno;
  return 0;
}

Result<void> JobFile::end_sync(int error) {
  if (error != 0) {
    sync_failed_ = true;
    return tl::unexpected(disk_fault(error, "cannot sync", path_));
  }
  if (syncing_.bytes > synced_.bytes) {
    unsynced_.erase(0, syncing_.bytes - synced_.bytes);
    synced_ = syncing_;
  }
  return {};
}

Result<void> JobFile::recover_after_failed_sync() {
  if (!sync_failed_) return {};
  return replace_by_copy();
}

/// A file that stands at our name and is not ours is replaced only by one that holds all of it: the old state of
/// this job on a disk that came back, never somebody else's file.
Result<void> JobFile::only_our_past_is_named() const {
  const FileDescriptor other(::open(path_.c_str(), O_RDONLY | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK));
  if (!other && errno == ENOENT) return {};
  if (!other) return tl::unexpected(disk_fault(errno, "cannot read the job", path_));
  if (is_named(file_, path_)) return {};
  const auto size = size_of(other, path_);
  if (!size) return tl::unexpected(size.error());
  const auto foreign = fault("another file has the name of this job", path_,
                             "move that file away: a copy of the job is put there");
  if (*size > written_.bytes) return foreign;
  Sha256 theirs;
  auto read = read_blocks(other, *size, path_, [&](std::string_view block) -> Result<void> {
    theirs.update(block);
    return {};
  });
  if (!read) return read;
  Sha256 ours;
  const std::uint64_t from_disk = std::min(*size, synced_.bytes);
  read = read_blocks(file_, from_disk, path_, [&](std::string_view block) -> Result<void> {
    ours.update(block);
    return {};
  });
  if (!read) return read;
  ours.update(std::string_view(unsynced_).substr(0, static_cast<std::size_t>(*size - from_disk)));
  if (ours.hex() != theirs.hex()) return foreign;
  return {};
}

Result<void> JobFile::replace_by_copy() {
  if (auto free = only_our_past_is_named(); !free) return free;
  const std::string copy_name = unfinished_name(path_);
  auto copy = open_unfinished(path_);
  if (!copy) return tl::unexpected(copy.error());

  Sha256 hash;
  auto done = read_blocks(file_, synced_.bytes, path_, [&](std::string_view block) {
    hash.update(block);
    return write_all(*copy, block, calls_, path_);
  });
  if (done && hash.hex() != synced_.hash.hex())
    done = fault("the disk gives back other bytes than were synced", path_,
                 "record to another disk with --data");
  if (done) done = write_all(*copy, unsynced_, calls_, path_);
  if (done && calls_.sync_all(copy->get()) != 0)
    done = tl::unexpected(disk_fault(errno, "cannot sync a copy", path_));
  if (done) done = rename_over(copy_name, path_);
  if (!done) {
    ::unlink(copy_name.c_str());
    return done;
  }
  file_ = std::move(*copy);  // the lock goes with it; that of the old file ends here
  half_line_ = false;
  sync_failed_ = true;  // until the folder is synced the name may still lead to the old file
  if (auto folder = sync_folder(folder_of(path_), calls_); !folder) return folder;
  synced_ = written_;
  unsynced_.clear();
  sync_failed_ = false;
  return {};
}

// --- creating ---

Result<CreatedJob> JobFile::create(const std::string& path, std::span<const Item> header, DiskCalls calls) {
  const std::string folder = folder_of(path);
  if (auto made = make_folder(folder, calls); !made) return tl::unexpected(made.error());
  remove_unfinished(folder);
  auto file = open_unfinished(path);
  if (!file) return tl::unexpected(file.error());

  JobFile job(path, std::move(*file), std::move(calls));
  const std::string unfinished = unfinished_name(path);
  const auto make = [&]() -> Result<std::vector<Item>> {
    job.stage_line(kJobFileMagic);
    auto written = job.append(header);
    if (!written) return written;
    if (job.calls_.sync_all(job.file_.get()) != 0)
      return tl::unexpected(disk_fault(errno, "cannot sync", path));
    if (auto named = rename_new(unfinished, path); !named) return tl::unexpected(named.error());
    if (auto synced = sync_folder(folder, job.calls_); !synced) {
      ::unlink(path.c_str());
      return tl::unexpected(synced.error());
    }
    return written;
  };
  auto written = make();
  if (!written) {
    ::unlink(unfinished.c_str());
    return tl::unexpected(written.error());
  }
  job.synced_ = job.written_;
  job.unsynced_.clear();
  return CreatedJob{std::move(job), std::move(*written)};
}

// --- resuming ---

Result<ResumedJob> JobFile::resume(const std::string& path, TimePoint now, DiskCalls calls) {
  auto file = open_and_lock(path);
  if (!file) return tl::unexpected(file.error());
  const auto size = size_of(*file, path);
  if (!size) return tl::unexpected(size.error());

  JobScan scan;
  auto read = read_blocks(*file, *size, path, [&](std::string_view block) -> Result<void> {
    scan.on_bytes(block);
    return {};
  });
  if (!read) return tl::unexpected(read.error());
  scan.on_end();
  const JobShape& shape = scan.shape();
  if (!shape.job_file)
    return fault("not a job file: its first line is not '" + std::string(kJobFileMagic) + "'", path,
                 "name a file that sumplog recorded");
  const auto closed = fault("this job is closed; nothing can be added to it", path, "start a new job");
  if (shape.closed_once) return closed;

  JobFile job(path, std::move(*file), std::move(calls));
  job.written_ =
      State{scan.hash(), shape.bytes, shape.last_at, shape.last_at, shape.sealed_bytes == shape.bytes};
  job.staged_ = job.written_;
  job.synced_ = job.written_;
  // What the killed program wrote and did not sync is trusted from here on: it must be on the disk first.
  if (job.calls_.sync_all(job.file_.get()) != 0)
    return tl::unexpected(disk_fault(errno, "cannot sync", path));
  if (auto synced = sync_folder(folder_of(path), job.calls_); !synced) return tl::unexpected(synced.error());

  if (auto mended = job.mend(shape, now); !mended) return tl::unexpected(mended.error());
  if (shape.ended) return closed;
  ResumedJob resumed{std::move(job), std::nullopt, shape.changed};
  if (shape.fragment_bytes > 0) resumed.torn_bytes = shape.fragment_bytes;
  return resumed;
}

bool JobFile::is_held(const std::string& path) {
  const FileDescriptor file(::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK));
  if (!file) return false;
  // A shared lock: two who look at once do not take each other for a writer.
  return ::flock(file.get(), LOCK_SH | LOCK_NB) != 0 && errno == EWOULDBLOCK;
}

Result<void> JobFile::mend(const JobShape& shape, TimePoint now) {
  if (shape.fragment_bytes > 0) {
    staged_text_ = "\n";
    staged_.hash.update(staged_text_);
    staged_.bytes += staged_text_.size();
  }
  if (!shape.fragment_closes) {
    // Numbered parts without the last one: the `torn` item speaks about the last of their lines, and a reader
    // drops the others.
    const std::uint64_t torn = shape.fragment_bytes > 0 ? shape.fragment_bytes
                               : shape.parts_open       ? shape.last_line_bytes
                                                        : 0;
    if (torn > 0) {
      staged_.sealed = true;  // a seal must not come between `torn` and what it speaks about
      if (auto staged = stage(Torn{now, torn}); !staged) return staged;
    }
    if (shape.end_is_last_line) {
      stage_seal();
    } else if (shape.ended) {
      // The closing seal must directly follow an `end` item.
      if (auto staged = stage(End{now}); !staged) return staged;
    }
  }
  if (staged_text_.empty()) return {};
  // A second power cut between the newline and the end of `torn` would leave a fragment that nothing
  // explains. So the mended file takes the place of the torn one as a whole.
  unsynced_ = std::exchange(staged_text_, {});
  staged_items_.clear();
  written_ = staged_;
  return replace_by_copy();
}

}  // namespace sumplog
