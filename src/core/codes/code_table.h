#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/codes/code_file.h"
#include "core/codes/fault_code.h"

namespace sumplog {

/// What stands in place of a meaning that no file gives. It never says that a code does not matter.
inline constexpr std::string_view kUnknownCodeText = "unknown: look it up in the maker's documentation";
inline constexpr std::string_view kUnknownCodeWhy = "no decoder file says what it means for this work";

/// What a code means and what it means for a fluid service. The two may come from different files.
struct CodeMeaning {
  std::string text{kUnknownCodeText};
  bool known = false;  ///< a file gives the text
  Origin text_origin = Origin::invented;
  std::string text_note;
  CodeClass code_class = CodeClass::unknown;
  std::string why{kUnknownCodeWhy};
  Origin class_origin = Origin::invented;
  std::string class_note;
};

/// The code files of a job, one over the other.
class CodeTable {
 public:
  /// Of two files that speak of the same code the one that was added later holds; obd-generic comes first.
  void add(CodeFile file) { files_.push_back(std::move(file)); }
  [[nodiscard]] const std::vector<CodeFile>& files() const { return files_; }

  /// in   code  "P0711", "P0711-1F", "SPN 177", "SPN 177 FMI 3"
  ///      detail  failure type or FMI, where the text does not name it
  /// out  the latest file's meaning; within a file an entry with failure types or FMIs before one without. What no file
  ///      knows is `unknown` in both, also what is no code at all.
  [[nodiscard]] CodeMeaning find(std::string_view code, std::optional<std::uint8_t> detail = {}) const;
  [[nodiscard]] CodeMeaning find(const J2012Code& code) const;
  [[nodiscard]] CodeMeaning find_spn(std::uint32_t spn, std::optional<std::uint8_t> fmi = {}) const;

 private:
  [[nodiscard]] CodeMeaning find(const CodeName& name) const;
  std::vector<CodeFile> files_;
};

}  // namespace sumplog
