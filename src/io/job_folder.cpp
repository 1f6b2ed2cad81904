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

Result<std::vector<std::string>> job_names(const std::string& folder) {
  std::vector<std::string> names;
  std::error_code error;
  if (!fs::exists(folder, error)) return names;
  for (fs::directory_iterator at(folder, error), end; !error && at != end; at.increment(error)) {
    std::string name = at->path().filename().string();
    if (name.ends_with(".log") && !name.starts_with('.')) names.push_back(std::move(name));
  }
  if (error)
    return fault("cannot read the folder: " + error.message(), folder, "name another one with --data");
  std::sort(names.begin(), names.end());
  return names;
}

Result<std::vector<FolderFile>> job_folder_files(const std::string& folder) {
  const auto names = job_names(folder);
  if (!names) return tl::unexpected(names.error());
  std::vector<FolderFile> files;
  for (const std::string& name : *names)
    // One that vanished meanwhile, or is a folder, is no job.
    if (auto file = folder_file((fs::path(folder) / name).string())) files.push_back(std::move(*file));
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
