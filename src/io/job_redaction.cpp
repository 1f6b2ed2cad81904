#include "io/job_redaction.h"

#include <unistd.h>

#include <filesystem>
#include <functional>
#include <optional>
#include <system_error>
#include <utility>
#include <vector>

#include "io/capture_file.h"
#include "io/durable_file.h"
#include "io/job_file.h"
#include "io/job_file_name.h"

namespace sumplog {
namespace {

namespace fs = std::filesystem;

constexpr std::size_t kItemsAtOnce = 512;  // staged before they are written

/// Gives all items of a job file to `take`. out  how the file ended
Result<Ending> read_items(const std::string& path, const std::function<Result<void>(const Item&)>& take) {
  auto file = CaptureFile::open(path);
  if (!file) return tl::unexpected(file.error());
  if (file->form() != CaptureForm::job_file)
    return fault("not a job file", path, "only a job that sumplog recorded is redacted");
  while (true) {
    auto item = file->next();
    if (!item) return tl::unexpected(item.error());
    if (!*item) return file->ending();
    if (auto taken = take(**item); !taken) return tl::unexpected(taken.error());
  }
}

/// Writes items to a new job file, whose header is what stands before the first other item.
class Copy {
 public:
  explicit Copy(std::string path) : path_(std::move(path)) {}

  Result<void> add(Item item) {
    const bool opens = std::holds_alternative<Settings>(item) || std::holds_alternative<DecoderText>(item);
    if (!file_ && opens) {
      header_.push_back(std::move(item));
      return {};
    }
    if (auto begun = begin(); !begun) return begun;
    if (auto staged = file_->stage(item); !staged) return staged;
    if (++staged_ < kItemsAtOnce) return {};
    return commit();
  }

  Result<void> finish() {
    if (auto begun = begin(); !begun) return begun;
    file_->stage_seal();
    if (auto done = commit(); !done) return done;
    return file_->sync();
  }

 private:
  Result<void> begin() {
    if (file_) return {};
    auto created = JobFile::create(path_, header_);
    if (!created) return tl::unexpected(created.error());
    file_.emplace(std::move(created->file));
    return {};
  }
  Result<void> commit() {
    staged_ = 0;
    auto written = file_->commit();
    if (!written) return tl::unexpected(written.error());
    return {};
  }

  std::string path_;
  std::vector<Item> header_;
  std::optional<JobFile> file_;
  std::size_t staged_ = 0;
};

}  // namespace

Result<RedactedJob> redact_job(const std::string& path, const std::string& to, const std::string& new_job) {
  Redactor redactor(new_job);
  std::optional<TimePoint> began;
  RedactedJob done;
  std::error_code ignored;
  const auto size = fs::file_size(path, ignored);
  auto read = read_items(path, [&](const Item& item) -> Result<void> {
    if (!began) began = time_of(item);
    if (std::holds_alternative<End>(item)) done.closed = true;
    redactor.learn(item);
    return {};
  });
  if (!read) return tl::unexpected(read.error());
  done.unreadable = read->bad_records;
  if (auto learned = redactor.learned(); !learned) {
    Fault fault = learned.error();
    fault.place = path;
    return tl::unexpected(std::move(fault));
  }
  read = read_items(path, [&](const Item& item) -> Result<void> {
    redactor.search(item);
    return {};
  });
  if (!read) return tl::unexpected(read.error());
  redactor.searched();

  done.path = fs::is_directory(to, ignored) ? (fs::path(to) / job_file_name(*began, new_job)).string() : to;
  const std::string partial = done.path + ".part";
  for (const std::string& taken : {done.path, partial})
    if (fs::exists(taken, ignored)) return fault("exists already", taken, "give another name, or remove it");
  const auto write = [&]() -> Result<void> {
    Copy copy(partial);
    auto written = read_items(path, [&](const Item& item) -> Result<void> {
      auto kept = redactor.redacted(item);
      return kept ? copy.add(std::move(*kept)) : Result<void>{};
    });
    if (!written) return tl::unexpected(written.error());
    if (fs::file_size(path, ignored) != size)
      return fault("this job is being recorded", path, "close it, then redact it");
    if (auto usable = redactor.finished(); !usable) {
      Fault fault = usable.error();
      fault.place = path;
      return tl::unexpected(std::move(fault));
    }
    if (auto finished = copy.finish(); !finished) return finished;
    if (auto named = rename_new(partial, done.path); !named) return named;
    return sync_folder(folder_of(done.path), DiskCalls{});
  };
  if (auto written = write(); !written) {
    ::unlink(partial.c_str());
    return tl::unexpected(written.error());
  }
  done.count = redactor.count();
  return done;
}

}  // namespace sumplog
