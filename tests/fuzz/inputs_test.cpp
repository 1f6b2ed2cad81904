// The fuzz targets without a fuzzer: the seeds made of the goldens, and every input that was once a finding.

#include <gtest/gtest.h>

#include <algorithm>
#include <cstdlib>
#include <exception>
#include <filesystem>
#include <fstream>
#include <iterator>

#include "fuzz/target.h"

namespace sumplog::fuzz {
namespace {

namespace fs = std::filesystem;

std::vector<fs::path> inputs_in(const fs::path& folder) {
  std::vector<fs::path> found;
  if (!fs::exists(folder)) return found;
  for (const auto& entry : fs::directory_iterator(folder)) found.push_back(entry.path());
  std::sort(found.begin(), found.end());
  return found;
}

/// err  what did not hold
std::string take(const Target& target, const fs::path& path) {
  std::ifstream file(path, std::ios::binary);
  const std::vector<std::uint8_t> bytes{std::istreambuf_iterator<char>(file), {}};
  try {
    target.take(bytes);
  } catch (const std::exception& error) {
    return path.string() + ": " + error.what();
  }
  return {};
}

fs::path corpora() {
  const char* const folder = std::getenv("SUMPLOG_FUZZ_CORPORA");
  return folder != nullptr ? folder : "";
}
const fs::path kRegressions = fs::path(SUMPLOG_SOURCE) / "tests/fuzz/regressions";

class FuzzTarget : public ::testing::TestWithParam<Target> {};

TEST_P(FuzzTarget, TakesTheSeedsMadeOfTheGoldens) {
  const auto seeds = inputs_in(corpora() / GetParam().name);
  EXPECT_FALSE(seeds.empty()) << "tests/fuzz/make_corpora.py makes none for this target";
  for (const auto& path : seeds) EXPECT_EQ(take(GetParam(), path), "");
}
TEST_P(FuzzTarget, TakesWhatWasOnceAFinding) {
  for (const auto& path : inputs_in(kRegressions / GetParam().name)) EXPECT_EQ(take(GetParam(), path), "");
}
TEST_P(FuzzTarget, TakesNothingAndOneByte) {
  EXPECT_NO_THROW(GetParam().take({}));
  for (unsigned value = 0; value < 256; ++value) {
    const auto byte = static_cast<std::uint8_t>(value);
    EXPECT_NO_THROW(GetParam().take({&byte, 1})) << value;
  }
}
INSTANTIATE_TEST_SUITE_P(All, FuzzTarget, ::testing::ValuesIn(targets()),
                         [](const auto& one) { return std::string(one.param.name); });

TEST(FuzzRegressions, BelongToATargetThatIsThere) {
  for (const auto& folder : inputs_in(kRegressions)) {
    const auto all = targets();
    EXPECT_TRUE(std::any_of(all.begin(), all.end(), [&](const Target& one) {
      return one.name == folder.filename().string();
    })) << folder;
  }
}

}  // namespace
}  // namespace sumplog::fuzz
