#include "io/durable_file.h"

#include <fcntl.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <chrono>
#include <cstdio>
#include <filesystem>
#include <system_error>
#include <thread>
#include <vector>

namespace sumplog {
namespace {

namespace fs = std::filesystem;

constexpr std::size_t kBlock = 64U << 10;  // bytes read at once
constexpr std::string_view kUnfinishedSuffix = ".unfinished";
constexpr mode_t kFileMode = 0644;
constexpr mode_t kFolderMode = 0755;
constexpr int kLockAttempts = 20;  // someone else holds a leftover's lock for microseconds only
constexpr auto kLockPause = std::chrono::milliseconds(5);

std::string_view way_out_of(int error) {
  switch (error) {
    case ENOSPC:
    case EDQUOT: return "free some space on this disk";
    case EFBIG:
      return "the limit for the size of one file is reached: raise it (ulimit -f) or start a new job";
    case EIO: return "the disk reports errors: copy the job file to another disk";
    case EROFS: return "the disk is mounted read-only: name another folder with --data";
    case EACCES:
    case EPERM: return "give this user the permission, or name another folder with --data";
    case ENOENT: return "check the name";
    case EEXIST: return "take another name";
    case ENAMETOOLONG: return "take a shorter name";
    case EMFILE:
    case ENFILE: return "too many files are open in this program or system";
    default: return "";
  }
}

Result<void> failed(std::string_view doing, const std::string& path) {
  return tl::unexpected(disk_fault(errno, doing, path));
}

}  // namespace

bool is_named(const FileDescriptor& file, const std::string& path) {
  struct stat open_file {};
  struct stat named {};
  return ::fstat(file.get(), &open_file) == 0 && ::stat(path.c_str(), &named) == 0 &&
         open_file.st_ino == named.st_ino && open_file.st_dev == named.st_dev;
}

DiskCalls::DiskCalls() : write(::write), truncate(::ftruncate), sync_data(::fdatasync), sync_all(::fsync) {}

Fault disk_fault(int error, std::string_view doing, const std::string& path) {
  return Fault{std::string(doing) + ": " + std::generic_category().message(error), path,
               std::string(way_out_of(error))};
}

std::string folder_of(const std::string& path) {
  const std::string folder = fs::path(path).parent_path().string();
  return folder.empty() ? "." : folder;
}

std::string unfinished_name(const std::string& path) {
  const fs::path whole(path);
  return (whole.parent_path() / ("." + whole.filename().string() + std::string(kUnfinishedSuffix))).string();
}

Result<void> sync_folder(const std::string& folder, const DiskCalls& calls) {
  const FileDescriptor open_folder(::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC));
  if (!open_folder) return failed("cannot open the folder", folder);
  // Some file systems cannot sync a folder and say EINVAL: they have nothing that could be lost.
  if (calls.sync_all(open_folder.get()) != 0 && errno != EINVAL)
    return failed("cannot sync the folder", folder);
  return {};
}

Result<void> make_folder(const std::string& folder, const DiskCalls& calls) {
  std::vector<std::string> missing;
  std::error_code error;
  for (fs::path at = folder; !at.empty() && !fs::exists(at, error); at = at.parent_path())
    missing.push_back(at.string());
  for (auto one = missing.rbegin(); one != missing.rend(); ++one) {
    if (::mkdir(one->c_str(), kFolderMode) != 0 && errno != EEXIST)
      return failed("cannot make the folder", *one);
    if (auto synced = sync_folder(folder_of(*one), calls); !synced) return synced;
  }
  if (!fs::is_directory(folder, error))
    return fault("not a folder", folder, "name another folder with --data");
  return {};
}

Result<Lock> take_lock(const FileDescriptor& file, const std::string& path) {
  int result = 0;
  do {
    result = ::flock(file.get(), LOCK_EX | LOCK_NB);
  } while (result != 0 && errno == EINTR);
  if (result != 0) {
    if (errno == EWOULDBLOCK) return Lock::busy;
    return tl::unexpected(disk_fault(errno, "cannot lock the file", path));
  }
  return is_named(file, path) ? Lock::taken : Lock::moved;
}

void remove_unfinished(const std::string& folder) {
  std::error_code error;
  for (fs::directory_iterator at(folder, error), end; !error && at != end; at.increment(error)) {
    const std::string name = at->path().filename().string();
    if (!name.starts_with('.') || !name.ends_with(kUnfinishedSuffix)) continue;
    const std::string path = at->path().string();
    const FileDescriptor file(::open(path.c_str(), O_RDWR | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK));
    if (!file) continue;
    const auto lock = take_lock(file, path);
    if (lock && *lock == Lock::taken) ::unlink(path.c_str());
  }
}

Result<FileDescriptor> open_unfinished(const std::string& path) {
  const std::string name = unfinished_name(path);
  for (int attempt = 0; attempt < kLockAttempts; ++attempt) {
    FileDescriptor file(
        ::open(name.c_str(), O_CREAT | O_RDWR | O_APPEND | O_CLOEXEC | O_NOFOLLOW, kFileMode));
    if (!file) return tl::unexpected(disk_fault(errno, "cannot make the file", path));
    const auto lock = take_lock(file, name);
    if (!lock) {
      ::unlink(name.c_str());
      return tl::unexpected(lock.error());
    }
    if (*lock == Lock::taken) {
      if (::ftruncate(file.get(), 0) != 0)
        return tl::unexpected(disk_fault(errno, "cannot empty the file", name));
      return file;
    }
    std::this_thread::sleep_for(kLockPause);
  }
  return fault("another sumplog is making this file", path, "stop it or take another name");
}

Result<void> write_all(const FileDescriptor& file, std::string_view bytes, const DiskCalls& calls,
                       const std::string& path) {
  while (!bytes.empty()) {
    const ssize_t count = calls.write(file.get(), bytes.data(), bytes.size());
    if (count < 0 && errno == EINTR) continue;
    if (count < 0) return failed("cannot write", path);
    if (count == 0) return fault("cannot write: the disk takes no bytes", path);
    bytes.remove_prefix(static_cast<std::size_t>(count));
  }
  return {};
}

Result<void> rename_over(const std::string& from, const std::string& to) {
  if (::rename(from.c_str(), to.c_str()) != 0) return failed("cannot give the file its name", to);
  return {};
}

Result<void> rename_new(const std::string& from, const std::string& to) {
  if (::renameat2(AT_FDCWD, from.c_str(), AT_FDCWD, to.c_str(), RENAME_NOREPLACE) == 0) return {};
  if (errno != EINVAL && errno != ENOSYS) return failed("cannot give the file its name", to);
  // Network file systems know no RENAME_NOREPLACE; a hard link does not replace either.
  if (::link(from.c_str(), to.c_str()) == 0) {
    ::unlink(from.c_str());
    return {};
  }
  if (errno == EEXIST) return failed("cannot give the file its name", to);
  // Neither of the two: job names are random, so looking first is good enough.
  std::error_code error;
  if (fs::exists(to, error)) {
    errno = EEXIST;
    return failed("cannot give the file its name", to);
  }
  return rename_over(from, to);
}

Result<std::uint64_t> size_of(const FileDescriptor& file, const std::string& path) {
  struct stat status {};
  if (::fstat(file.get(), &status) != 0)
    return tl::unexpected(disk_fault(errno, "cannot read the file", path));
  return static_cast<std::uint64_t>(status.st_size);
}

Result<void> read_blocks(const FileDescriptor& file, std::uint64_t end, const std::string& path,
                         const std::function<Result<void>(std::string_view)>& take) {
  std::vector<char> block(kBlock);
  for (std::uint64_t at = 0; at < end;) {
    const auto wanted = static_cast<std::size_t>(std::min<std::uint64_t>(block.size(), end - at));
    const ssize_t count = ::pread(file.get(), block.data(), wanted, static_cast<off_t>(at));
    if (count < 0 && errno == EINTR) continue;
    if (count < 0) return failed("cannot read", path);
    if (count == 0) return fault("the file became shorter while it was read", path);
    if (auto taken = take({block.data(), static_cast<std::size_t>(count)}); !taken) return taken;
    at += static_cast<std::uint64_t>(count);
  }
  return {};
}

}  // namespace sumplog
