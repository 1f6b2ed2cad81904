#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/decoder/decoder.h"
#include "core/item/result.h"

namespace sumplog {

/// What a fault code means for a fluid service. Advice with a reason: the person decides.
enum class CodeClass : std::uint8_t {
  stop_first,
  decide_first,
  invalidates_level_check,
  affects_warm_up,
  reason_to_service,
  unrelated,
  unknown,  ///< never written in a file: what no file classes
};
/// "stop first", "invalidates the level check", …
[[nodiscard]] std::string_view text_of(CodeClass code_class);

/// Codes that an entry of a file speaks of: one, or a range of SAE J2012 codes, counted in hexadecimal.
struct CodeRange {
  enum class Form : std::uint8_t { j2012, spn };
  Form form = Form::j2012;
  std::uint32_t first = 0;  ///< the two bytes of SAE J2012, or an SPN of SAE J1939
  std::uint32_t last = 0;   ///< included
  int line = 0;
};

/// A [[code]] of the file.
struct CodeText {
  CodeRange code;    ///< one code
  std::string text;  ///< short, in our own words
  Origin origin = Origin::invented;
  std::string origin_note;
};

/// A [[class]] of the file.
struct CodeClassing {
  std::vector<CodeRange> codes;
  std::vector<std::uint8_t> details;  ///< failure types of SAE J2012, or FMIs of SAE J1939; empty: any
  CodeClass code_class = CodeClass::unknown;
  std::string why;
  Origin origin = Origin::invented;
  std::string origin_note;
};

/// decoders/<id>/codes.toml
struct CodeFile {
  std::string id;
  std::string title;
  std::vector<CodeText> texts;
  std::vector<CodeClassing> classes;
};

/// Reads the text of a codes.toml. `name` is what errors call the file.
/// err  first mistake with `file:line`: unknown key or class, something that is no code, a range the wrong way round, a code
///      that has two texts or two classes, missing origin …
[[nodiscard]] Result<CodeFile> parse_code_file(std::string_view text, const std::string& name);

/// A code as it is written: "P0711", with a failure type "P0711-1F"; "SPN 177", with an FMI "SPN 177 FMI 3".
struct CodeName {
  CodeRange::Form form = CodeRange::Form::j2012;
  std::uint32_t value = 0;             ///< two bytes, or an SPN
  std::optional<std::uint8_t> detail;  ///< failure type, or FMI
};
/// out  nothing when the text is not such a code
/// src  SAE J2012; SAE J1939-73: an SPN has 19 bits, an FMI 5
[[nodiscard]] std::optional<CodeName> parse_code_name(std::string_view text);

}  // namespace sumplog
