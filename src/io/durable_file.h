#pragma once
#include <sys/types.h>

#include <functional>
#include <string>
#include <string_view>

#include "core/item/result.h"
#include "io/file_descriptor.h"

namespace sumplog {

// What it takes until bytes and names survive a power cut, in small steps. The job file puts them together.

/// The system calls that fail when a disk does. Tests put failing ones in their place.
struct DiskCalls {
  DiskCalls();
  std::function<ssize_t(int fd, const void* bytes, std::size_t count)> write;
  std::function<int(int fd, off_t length)> truncate;
  std::function<int(int fd)> sync_data;  ///< fdatasync
  std::function<int(int fd)> sync_all;   ///< fsync, of files and of folders
};

/// A Fault for an errno of a disk: what failed, which file, and the way out that fits this errno.
[[nodiscard]] Fault disk_fault(int error, std::string_view doing, const std::string& path);

/// The folder in which a file lies; "." when the path names none.
[[nodiscard]] std::string folder_of(const std::string& path);
/// A hidden name beside `path` for a file that is not whole yet.
[[nodiscard]] std::string unfinished_name(const std::string& path);

/// Makes the folder and those above it; each new one is synced into its parent.
[[nodiscard]] Result<void> make_folder(const std::string& folder, const DiskCalls& calls);
[[nodiscard]] Result<void> sync_folder(const std::string& folder, const DiskCalls& calls);
/// Removes unfinished files that a killed program left in the folder: those that nobody holds the lock of.
void remove_unfinished(const std::string& folder);

/// Opens and locks an empty unfinished_name(path), for appending; it replaces one that a killed program left.
[[nodiscard]] Result<FileDescriptor> open_unfinished(const std::string& path);

/// True while `path` names the open file: it was not removed, and the disk that it lies on was not taken away.
[[nodiscard]] bool is_named(const FileDescriptor& file, const std::string& path);

enum class Lock { taken, busy, moved };
/// Takes the advisory lock of an open file, without waiting.
/// out  busy: another process holds it · moved: `path` names another file by now, open it again
/// err  the file system has no locks
[[nodiscard]] Result<Lock> take_lock(const FileDescriptor& file, const std::string& path);

/// Writes all of it, whatever pieces the kernel takes. On a failure some of it may have been written.
[[nodiscard]] Result<void> write_all(const FileDescriptor& file, std::string_view bytes,
                                     const DiskCalls& calls, const std::string& path);
/// Gives `from` the name `to`, which nothing may have yet.
[[nodiscard]] Result<void> rename_new(const std::string& from, const std::string& to);
/// Gives `from` the name `to`; what had it before is gone.
[[nodiscard]] Result<void> rename_over(const std::string& from, const std::string& to);

/// Calls `take` with the bytes [0, end) of a file, in blocks.
/// err  a read failed, or the file is shorter than `end`
[[nodiscard]] Result<void> read_blocks(const FileDescriptor& file, std::uint64_t end, const std::string& path,
                                       const std::function<Result<void>(std::string_view)>& take);
[[nodiscard]] Result<std::uint64_t> size_of(const FileDescriptor& file, const std::string& path);

}  // namespace sumplog
