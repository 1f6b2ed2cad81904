#pragma once
#include <algorithm>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>
#include <vector>

namespace sumplog::testing {

inline std::string file_text(const std::filesystem::path& path) {
  std::ifstream file(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(file), {}};
}

/// Every folder in decoders/ that holds this file, in a fixed order.
inline std::vector<std::filesystem::path> folders_with(const std::string& file_name) {
  std::vector<std::filesystem::path> folders;
  for (const auto& entry :
       std::filesystem::directory_iterator(std::filesystem::path{SUMPLOG_SOURCE} / "decoders")) {
    if (std::filesystem::exists(entry.path() / file_name)) folders.push_back(entry.path());
  }
  std::sort(folders.begin(), folders.end());
  return folders;
}

}  // namespace sumplog::testing
