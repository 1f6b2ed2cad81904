#include "io/photo_store.h"

#include <fcntl.h>
#include <unistd.h>

#include <cerrno>
#include <filesystem>
#include <memory>
#include <utility>

#include "core/item/json_line.h"
#include "core/record/image_kind.h"
#include "io/sha256.h"

namespace sumplog {
namespace {

constexpr std::size_t kDigitsInName = 12;  // of the SHA-256: 48 bits tell the photos of one job apart

std::string sha256_of(std::string_view bytes) {
  Sha256 hash;
  hash.update(bytes);
  return hash.hex();
}

/// out  true: the file is there and has these bytes
Result<bool> is_there(const std::string& path, const std::string& sha256) {
  const FileDescriptor file(::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK));
  if (!file && errno == ENOENT) return false;
  if (!file) return tl::unexpected(disk_fault(errno, "cannot read the photo", path));
  const auto size = size_of(file, path);
  if (!size) return tl::unexpected(size.error());
  Sha256 hash;
  auto read = read_blocks(file, *size, path, [&](std::string_view block) -> Result<void> {
    hash.update(block);
    return {};
  });
  if (!read) return tl::unexpected(read.error());
  if (hash.hex() != sha256) return fault("another file has the name of this photo", path, "move it away");
  return true;
}

Result<void> write_photo(const std::string& path, std::string_view bytes, const DiskCalls& calls) {
  auto file = open_unfinished(path);
  if (!file) return tl::unexpected(file.error());
  auto done = write_all(*file, bytes, calls, path);
  if (done && calls.sync_all(file->get()) != 0) done = tl::unexpected(disk_fault(errno, "cannot sync", path));
  if (done) done = rename_new(unfinished_name(path), path);
  if (!done) ::unlink(unfinished_name(path).c_str());
  return done;
}

}  // namespace

std::string StoredPhoto::fields(std::string_view of, std::string_view by) const {
  JsonLine line;
  line.text("file", file);
  line.text("sha256", sha256);
  line.integer("bytes", static_cast<std::int64_t>(bytes));
  line.text("type", type);
  if (!of.empty()) line.text("of", of);
  if (!by.empty()) line.text("by", by);
  return line.take();
}

Result<StoredPhoto> store_photo(const std::string& job_path, std::string_view bytes, const DiskCalls& calls) {
  const auto kind = image_kind(bytes);
  if (!kind)
    return fault("this is no photo: neither JPEG nor PNG nor WebP", {},
                 "send the file as the camera made it");
  namespace fs = std::filesystem;
  StoredPhoto photo{{}, sha256_of(bytes), bytes.size(), std::string(kind->type)};
  const fs::path job(job_path);
  photo.file = job.stem().string() + "-" + photo.sha256.substr(0, kDigitsInName) + std::string(kind->ending);
  const std::string path = (job.parent_path() / photo.file).string();
  const auto there = is_there(path, photo.sha256);
  if (!there) return tl::unexpected(there.error());
  if (!*there) {
    if (auto written = write_photo(path, bytes, calls); !written) return tl::unexpected(written.error());
  }
  if (auto synced = sync_folder(folder_of(path), calls); !synced) return tl::unexpected(synced.error());
  return photo;
}

PhotoStore::PhotoStore(std::function<void(std::function<void()>)> deliver)
    : deliver_(std::move(deliver)), thread_([this] { run(); }) {}

PhotoStore::~PhotoStore() {
  {
    const std::lock_guard lock(mutex_);
    ending_ = true;
  }
  wake_.notify_one();
  thread_.join();
}

void PhotoStore::store(std::string job_path, std::string bytes, Done done) {
  {
    const std::lock_guard lock(mutex_);
    tasks_.push_back({std::move(job_path), std::move(bytes), std::move(done)});
  }
  wake_.notify_one();
}

void PhotoStore::run() {
  std::unique_lock lock(mutex_);
  for (;;) {
    wake_.wait(lock, [this] { return ending_ || !tasks_.empty(); });
    if (tasks_.empty()) return;
    Task task = std::move(tasks_.front());
    tasks_.pop_front();
    lock.unlock();
    auto stored = std::make_shared<Result<StoredPhoto>>(store_photo(task.job_path, task.bytes));
    deliver_([done = std::move(task.done), stored] { done(std::move(*stored)); });
    lock.lock();
  }
}

}  // namespace sumplog
