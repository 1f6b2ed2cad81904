#include "app/job_finding.h"

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <system_error>

#include "app/job_place.h"
#include "core/item/item_text.h"
#include "io/job_folder.h"

namespace sumplog {

namespace fs = std::filesystem;

namespace {

constexpr std::size_t kMostNamed = 5;  // of the jobs that a beginning fits
// The settings of a job are a few lines, and stand at its beginning.
constexpr int kOpeningLines = 64;

std::string name_of(const std::string& path) {
  return fs::path(path).filename().string();
}

}  // namespace

Result<std::vector<std::string>> job_files(const std::string& folder) {
  auto files = job_names(folder);
  if (!files) return files;
  for (std::string& one : *files) one = (fs::path(folder) / one).string();
  return files;
}

Result<std::string> job_id_of(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  if (!file) return fault("cannot be opened", path, "check the name and the permissions");
  std::string line;
  ItemLineParser parser;
  for (int read = 0; read < kOpeningLines && std::getline(file, line); ++read) {
    if (read == 0) {
      if (line != kJobFileMagic) break;
      continue;
    }
    const ParsedLine parsed = parser.on_line(line);
    if (!parsed.item) continue;
    if (const auto* settings = std::get_if<Settings>(&*parsed.item)) return settings->job;
    break;
  }
  return fault("not a job file", path, "name a file that sumplog recorded");
}

Result<std::string> find_job(const ProgramSettings& settings, const std::string& job) {
  std::error_code ignored;
  if (job.find('/') != std::string::npos || fs::exists(job, ignored)) {
    if (!fs::exists(job, ignored))
      return fault("no such job file", job, "sumplog jobs list shows those that there are");
    return job;
  }
  const std::string folder = data_folder(settings);
  const auto files = job_files(folder);
  if (!files) return tl::unexpected(files.error());
  std::vector<std::string> fitting;
  for (const std::string& path : *files) {
    if (name_of(path).starts_with(job)) {
      fitting.push_back(path);
    } else if (const auto id = job_id_of(path); id && id->starts_with(job)) {
      fitting.push_back(path);
    }
  }
  if (job.empty() || fitting.empty())
    return fault("no job begins with '" + job + "'", folder, "sumplog jobs list shows those that there are");
  if (fitting.size() == 1) return fitting.front();
  std::string named;
  for (std::size_t i = 0; i < std::min(fitting.size(), kMostNamed); ++i)
    named += (named.empty() ? "" : ", ") + name_of(fitting[i]);
  if (fitting.size() > kMostNamed) named += ", …";
  return fault(std::to_string(fitting.size()) + " jobs begin with '" + job + "': " + named, folder,
               "give more of the id");
}

}  // namespace sumplog
