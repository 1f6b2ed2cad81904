#include "io/capture_file.h"

#include <fcntl.h>
#include <poll.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <string_view>
#include <utility>

#include "io/durable_file.h"

namespace sumplog {
namespace {

constexpr std::size_t kBlock = 32U << 10;  // bytes read at once: it stays in the processor's nearest memory
constexpr std::size_t kBeginning = 4U << 10;  // bytes that recognise() asks for

}  // namespace

CaptureFile::CaptureFile(FileDescriptor file, int fd, std::string place)
    : file_(std::move(file)), fd_(fd), place_(std::move(place)) {}

Result<CaptureFile> CaptureFile::open(const std::string& path) {
  const bool standard_input = path == "-";
  FileDescriptor file;
  if (!standard_input) {
    file = FileDescriptor(::open(path.c_str(), O_RDONLY | O_CLOEXEC));
    if (!file) return tl::unexpected(disk_fault(errno, "cannot open the capture", path));
  }
  const int fd = standard_input ? STDIN_FILENO : file.get();
  CaptureFile capture(std::move(file), fd, standard_input ? "standard input" : path);
  struct stat status {};
  if (::fstat(fd, &status) == 0 && S_ISDIR(status.st_mode))
    return fault("is a folder, not a capture", capture.place_, "name a file in it");

  std::string beginning;
  while (beginning.size() < kBeginning && !capture.ended_) {
    const auto more = capture.read_block();
    if (!more) return tl::unexpected(more.error());
    beginning += capture.block_;
  }
  if (beginning.empty()) return fault("is empty", capture.place_, "name a capture that holds frames");
  const auto form = recognise(beginning);
  if (!form) {
    Fault unknown = form.error();
    if (unknown.place.empty()) unknown.place = capture.place_;
    return tl::unexpected(std::move(unknown));
  }
  capture.form_ = *form;
  capture.reader_ = make_reader(*form);
  capture.reader_->on_bytes(beginning);
  if (capture.ended_) capture.reader_->on_end();
  return capture;
}

Result<bool> CaptureFile::read_block() {
  block_.resize(kBlock);
  for (;;) {
    const ssize_t count = ::read(fd_, block_.data(), block_.size());
    if (count < 0 && errno == EINTR) continue;
    if (count < 0 && errno == EAGAIN) {
      // Whoever started us left standard input non-blocking.
      pollfd waiting{fd_, POLLIN, 0};
      (void)::poll(&waiting, 1, -1);
      continue;
    }
    if (count < 0) return tl::unexpected(disk_fault(errno, "cannot read", place_));
    block_.resize(static_cast<std::size_t>(count));
    ended_ = count == 0;
    return !ended_;
  }
}

Result<Item*> CaptureFile::next_of_more() {
  while (!ended_) {
    const auto more = read_block();
    if (!more) return tl::unexpected(more.error());
    if (*more) {
      reader_->on_bytes(block_);
    } else {
      reader_->on_end();
    }
    if (Item* const item = reader_->next()) return item;
  }
  return nullptr;
}

}  // namespace sumplog
