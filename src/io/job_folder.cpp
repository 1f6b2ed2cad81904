#include "io/job_folder.h"

#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <filesystem>
#include <system_error>

#include "io/durable_file.h"

namespace sumplog {

namespace fs = std::filesystem;

Result<FolderFile> folder_file(const std::string& path) {
  constexpr std::int64_t kSecond_us = 1000000;
  constexpr std::int64_t kMicrosecond_ns = 1000;
  struct stat status {};
  if (::stat(path.c_str(), &status) != 0)
    return tl::unexpected(disk_fault(errno, "cannot look at the job", path));
  if (!S_ISREG(status.st_mode)) return fault("not a regular file", path);
  return FolderFile{fs::path(path).filename().string(), static_cast<std::uint64_t>(status.st_size),
                    status.st_mtim.tv_sec * kSecond_us + status.st_mtim.tv_nsec / kMicrosecond_ns};
}

Result<std::vector<FolderFile>> job_folder_files(const std::string& folder) {
  std::vector<FolderFile> files;
  std::error_code error;
  if (!fs::exists(folder, error)) return files;
  for (fs::directory_iterator at(folder, error), end; !error && at != end; at.increment(error)) {
    const std::string name = at->path().filename().string();
    if (!name.ends_with(".log") || name.starts_with('.')) continue;
    // One that vanished meanwhile, or is a folder, is no job.
    if (auto file = folder_file(at->path().string())) files.push_back(std::move(*file));
  }
  if (error)
    return fault("cannot read the folder: " + error.message(), folder, "name another one with --data");
  std::sort(files.begin(), files.end(),
            [](const FolderFile& a, const FolderFile& b) { return a.name < b.name; });
  return files;
}

std::string absolute_folder(const std::string& folder) {
  std::error_code error;
  const fs::path whole = fs::weakly_canonical(folder, error);
  return error ? folder : whole.string();
}

std::string computer_name() {
  char name[256] = {};
  if (::gethostname(name, sizeof name - 1) != 0 || name[0] == '\0') return "unnamed";
  return name;
}

}  // namespace sumplog
