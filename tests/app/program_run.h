#pragma once
#include <gtest/gtest.h>
#include <sys/wait.h>

#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>

namespace sumplog {

namespace fs = std::filesystem;

/// A folder that vanishes with the test.
class ScratchFolder {
 public:
  ScratchFolder() {
    std::string name = (fs::temp_directory_path() / "sumplog-test-XXXXXX").string();
    if (mkdtemp(name.data()) == nullptr) ADD_FAILURE() << "no scratch folder";
    path_ = name;
  }
  ~ScratchFolder() {
    std::error_code ignored;
    fs::remove_all(path_, ignored);
  }
  ScratchFolder(const ScratchFolder&) = delete;
  ScratchFolder& operator=(const ScratchFolder&) = delete;

  [[nodiscard]] fs::path operator/(const std::string& name) const { return path_ / name; }
  [[nodiscard]] std::string file(const std::string& name, const std::string& text) const {
    std::ofstream(path_ / name, std::ios::binary) << text;
    return (path_ / name).string();
  }

 private:
  fs::path path_;
};

inline std::string text_of_file(const fs::path& path) {
  std::ifstream file(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(file), {}};
}

struct Ran {
  int status = -1;  ///< exit status; 128 + signal when it was killed by one
  std::string out;
  std::string err;
};

/// Runs the built program as a shell would: `words` is what stands behind its name, `before` stands before it.
inline Ran run_program(const std::string& words, const std::string& before = {}) {
  const ScratchFolder scratch;
  const std::string out = (scratch / "out").string();
  const std::string err = (scratch / "err").string();
  const std::string command =
      before + " \"" SUMPLOG_PROGRAM "\" " + words + " >" + out + " 2>" + err + " </dev/null";
  const int ended = std::system(command.c_str());
  Ran ran;
  ran.status = WIFEXITED(ended) ? WEXITSTATUS(ended) : 128 + WTERMSIG(ended);
  ran.out = text_of_file(out);
  ran.err = text_of_file(err);
  return ran;
}

inline long lines_in(const std::string& text) {
  return std::count(text.begin(), text.end(), '\n');
}

}  // namespace sumplog
