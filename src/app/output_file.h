#pragma once
#include <fstream>
#include <ostream>
#include <string>
#include <string_view>

#include "core/item/result.h"

namespace sumplog {

/// Where a command writes: a file that gets its name only when it is whole, or standard output.
class OutputFile {
 public:
  /// in   path  empty or "-": standard output
  /// err  the file exists already, or another one has its name while it is not whole (with ".part"); cannot be made
  [[nodiscard]] static Result<OutputFile> create(const std::string& path);
  ~OutputFile();
  OutputFile(OutputFile&&) noexcept;
  OutputFile& operator=(OutputFile&&) = delete;

  void write(std::string_view bytes);
  [[nodiscard]] bool failed() const;
  /// Gives the file its name.
  [[nodiscard]] Result<void> finish();

 private:
  OutputFile() = default;
  [[nodiscard]] const std::ostream& stream() const;

  std::string path_;     ///< empty: standard output
  std::string partial_;  ///< its name until it is whole; empty: nothing to clean up
  std::ofstream file_;
};

}  // namespace sumplog
