#include "app/output_file.h"

#include <filesystem>
#include <iostream>
#include <utility>

namespace sumplog {

namespace fs = std::filesystem;

Result<OutputFile> OutputFile::create(const std::string& path) {
  OutputFile out;
  if (path.empty() || path == "-") return out;
  std::error_code ignored;
  const std::string partial = path + ".part";
  for (const std::string& taken : {path, partial})
    if (fs::exists(taken, ignored)) return fault("exists already", taken, "give another name, or remove it");
  out.path_ = path;
  out.partial_ = partial;
  out.file_.open(out.partial_, std::ios::binary | std::ios::trunc);
  if (!out.file_) {
    out.partial_.clear();
    return fault("cannot be written", path, "check the folder and its permissions");
  }
  return out;
}

OutputFile::OutputFile(OutputFile&& other) noexcept
    : path_(std::exchange(other.path_, {})),
      partial_(std::exchange(other.partial_, {})),
      file_(std::move(other.file_)) {}

OutputFile::~OutputFile() {
  if (partial_.empty()) return;
  file_.close();
  std::error_code ignored;
  fs::remove(partial_, ignored);
}

const std::ostream& OutputFile::stream() const {
  return path_.empty() ? static_cast<const std::ostream&>(std::cout) : file_;
}

void OutputFile::write(std::string_view bytes) {
  std::ostream& to = path_.empty() ? std::cout : file_;
  to.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
}

bool OutputFile::failed() const {
  return !stream();
}

Result<void> OutputFile::finish() {
  if (path_.empty()) {
    std::cout.flush();
    if (!std::cout) return fault("cannot be written", "standard output");
    return {};
  }
  file_.close();
  if (!file_) return fault("cannot be written to its end", path_, "is the disk full?");
  std::error_code error;
  fs::rename(partial_, path_, error);
  if (error) return fault("cannot get its name: " + error.message(), path_);
  partial_.clear();
  return {};
}

}  // namespace sumplog
