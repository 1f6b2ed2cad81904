#include <gtest/gtest.h>

#include <algorithm>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>
#include <vector>

#include "core/vehicle/record_scenario.h"

namespace sumplog {
namespace {

namespace fs = std::filesystem;

// captures/<decoder>/<scenario>/capture.log is what the simulated vehicle gives for the scenario.toml beside
// it. SUMPLOG_BLESS=1 writes the files anew; the commit then says why.

constexpr std::uintmax_t kMostBytes = 1'000'000;  // own choice: a repository carries them

std::string text_of_file(const fs::path& path) {
  std::ifstream file(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(file), {}};
}

/// A scenario with entries is a live job; whole_job_test.cpp holds it.
bool is_live_job(const fs::path& path) {
  const auto scenario = parse_scenario(text_of_file(path), path.string());
  return scenario && !scenario->entries.empty();
}

std::vector<fs::path> scenario_folders() {
  std::vector<fs::path> folders;
  for (const auto& entry : fs::recursive_directory_iterator(fs::path(SUMPLOG_SOURCE) / "captures")) {
    if (entry.path().filename() == "scenario.toml" && !is_live_job(entry.path()))
      folders.push_back(entry.path().parent_path());
  }
  std::sort(folders.begin(), folders.end());
  return folders;
}

class Capture : public testing::TestWithParam<fs::path> {};

TEST_P(Capture, IsWhatItsScenarioGives) {
  const fs::path& folder = GetParam();
  const auto items =
      record_scenario(text_of_file(folder / "scenario.toml"), (folder / "scenario.toml").string());
  ASSERT_TRUE(items) << items.error().text();
  const std::string text = capture_text(*items);
  const fs::path log = folder / "capture.log";
  if (const char* bless = std::getenv("SUMPLOG_BLESS"); bless != nullptr && std::string(bless) == "1") {
    std::ofstream(log, std::ios::binary) << text;
  }
  EXPECT_LT(text.size(), kMostBytes);
  // Not EXPECT_EQ on the whole: its report would be megabytes.
  EXPECT_TRUE(text_of_file(log) == text) << log << " differs from what its scenario gives";
}

TEST_P(Capture, SaysWhereItComesFrom) {
  EXPECT_TRUE(fs::exists(GetParam() / "about.toml"));
}

std::string name_of(const testing::TestParamInfo<fs::path>& info) {
  std::string name = info.param.parent_path().filename().string() + "_" + info.param.filename().string();
  std::replace(name.begin(), name.end(), '-', '_');
  return name;
}
INSTANTIATE_TEST_SUITE_P(All, Capture, testing::ValuesIn(scenario_folders()), name_of);

}  // namespace
}  // namespace sumplog
