#include "app/job_place.h"

#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <random>

#include "app/job_opening.h"
#include "io/job_file_name.h"

namespace sumplog {

namespace fs = std::filesystem;

std::string random_job_id() {
  std::random_device random;
  std::string id;
  for (int word = 0; word < 4; ++word) {
    char text[9];
    std::snprintf(text, sizeof text, "%08x", static_cast<unsigned>(random()));
    id += text;
  }
  return id;
}

std::string random_entry_id() {
  constexpr std::size_t kDigits = 16;
  return random_job_id().substr(0, kDigits);
}

std::string data_folder(const ProgramSettings& settings) {
  if (const auto named = settings.value("data")) return *named;
  const char* const xdg = std::getenv("XDG_DATA_HOME");
  if (xdg != nullptr && *xdg != '\0') return (fs::path(xdg) / "sumplog").string();
  const char* const home = std::getenv("HOME");
  return (fs::path(home != nullptr && *home != '\0' ? home : ".") / ".local/share/sumplog").string();
}

std::string new_job_path(const ProgramSettings& settings, TimePoint start, const std::string& job) {
  return (fs::path(data_folder(settings)) / job_file_name(start, job)).string();
}

std::string shipped_scenario(const std::string& name) {
  std::error_code ignored;
  for (const std::string& decoders : decoder_folders()) {
    const fs::path place = fs::path(decoders).parent_path() / "captures" / name;
    if (fs::exists(place, ignored)) return place.string();
  }
  return "captures/" + name;
}

}  // namespace sumplog
