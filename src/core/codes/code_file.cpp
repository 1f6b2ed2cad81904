#include "core/codes/code_file.h"

#include <algorithm>
#include <array>
#include <charconv>

#include "core/codes/fault_code.h"
#include "core/decoder/file_head.h"
#include "core/decoder/origin_keys.h"
#include "core/decoder/toml_table.h"

namespace sumplog {
namespace {

constexpr std::uint32_t kMaxSpn = 0x7FFFF;     // SAE J1939-73, 19 bits
constexpr std::int64_t kMaxFmi = 31;           // SAE J1939-73, 5 bits
constexpr std::int64_t kMaxFailureType = 255;  // SAE J2012-DA, one byte
constexpr unsigned kSystemShift = 14;          // SAE J2012, the letter of a code
constexpr std::string_view kSpn = "SPN ";
constexpr std::string_view kFmi = " FMI ";
/// Own choice: a line of the sheet holds it beside the code.
constexpr std::size_t kLongestText = 100;
constexpr std::string_view kHowToWrite = "write it like P0711 or SPN 177";

constexpr std::array kTopKeys = std::to_array<std::string_view>({"format", "id", "title", "code", "class"});
constexpr std::array kCodeKeys = std::to_array<std::string_view>({"code", "text", "origin", "origin_note"});
constexpr std::array kClassKeys = std::to_array<std::string_view>(
    {"codes", "failure_types", "fmi", "class", "why", "origin", "origin_note"});

constexpr std::array<std::string_view, 7> kClassWords{
    "stop first", "decide first", "invalidates the level check", "affects warm-up", "reason to service",
    "unrelated",  "unknown"};

std::optional<std::uint32_t> whole_number(std::string_view text, std::uint32_t most) {
  std::uint32_t value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc{} || end != text.data() + text.size() || value > most) return std::nullopt;
  return value;
}

std::string name_of(CodeRange::Form form, std::uint32_t value) {
  if (form == CodeRange::Form::spn) return std::string{kSpn} + std::to_string(value);
  return text_of(J2012Code{static_cast<std::uint16_t>(value), std::nullopt});
}

/// One code without failure type or FMI; notes a mistake otherwise.
std::optional<CodeName> read_code(const TomlTable& table, int line, std::string_view text) {
  const std::optional<CodeName> code = parse_code_name(text);
  if (!code) {
    table.mistake(line, "'" + std::string{text} + "' is no fault code", std::string{kHowToWrite});
  } else if (code->detail) {
    table.mistake(line, "'" + std::string{text} + "' names more than the code",
                  code->form == CodeRange::Form::j2012 ? "failure types of a class stand in 'failure_types'"
                                                       : "the FMIs of a class stand in 'fmi'");
    return std::nullopt;
  }
  return code;
}

std::optional<CodeRange> read_range(const TomlTable& table, int line, std::string_view text) {
  const std::size_t dash = text.find('-');
  // "P0711-1F" is one code with a failure type, "P0711-P0714" is a range.
  if (dash == std::string_view::npos || parse_code_name(text)) {
    const std::optional<CodeName> code = read_code(table, line, text);
    if (!code) return std::nullopt;
    return CodeRange{code->form, code->value, code->value, line};
  }
  const std::optional<CodeName> first = read_code(table, line, text.substr(0, dash));
  const std::optional<CodeName> last = read_code(table, line, text.substr(dash + 1));
  if (!first || !last) return std::nullopt;
  const std::string quoted = "the range '" + std::string{text} + "' ";
  if (first->form != CodeRange::Form::j2012 || last->form != CodeRange::Form::j2012) {
    table.mistake(line, quoted + "is of SPNs", "name each SPN");
    return std::nullopt;
  }
  if (first->value >> kSystemShift != last->value >> kSystemShift) {
    table.mistake(line, quoted + "goes from one system to another");
    return std::nullopt;
  }
  if (first->value > last->value) {
    table.mistake(line, quoted + "runs backwards",
                  "write " + std::string{text.substr(dash + 1)} + "-" + std::string{text.substr(0, dash)});
    return std::nullopt;
  }
  return CodeRange{CodeRange::Form::j2012, first->value, last->value, line};
}

std::vector<CodeRange> read_ranges(const TomlTable& table) {
  std::vector<CodeRange> out;
  table.need("codes", "a list of codes and ranges: [\"P0711\", \"P0729-P0736\"]");
  const TomlValue* list = table.value("codes");
  if (list == nullptr || table.texts("codes").empty()) return out;
  for (const TomlValue& item : list->items)
    if (const auto range = read_range(table, item.line, item.text)) out.push_back(*range);
  return out;
}

std::vector<std::uint8_t> read_details(const TomlTable& table, std::string_view key, std::int64_t most) {
  std::vector<std::uint8_t> out;
  const TomlValue* list = table.value(key);
  if (list == nullptr) return out;
  const bool numbers =
      !list->items.empty() &&
      std::all_of(list->items.begin(), list->items.end(), [most](const TomlValue& one) {
        return one.kind == TomlValue::Kind::integer && one.integer >= 0 && one.integer <= most;
      });
  if (!numbers) {
    table.mistake(list->line,
                  "'" + std::string{key} + "' must be a list of numbers from 0 to " + std::to_string(most));
    return out;
  }
  for (const TomlValue& one : list->items) {
    const auto value = static_cast<std::uint8_t>(one.integer);
    if (std::find(out.begin(), out.end(), value) != out.end())
      table.mistake(one.line, "'" + std::string{key} + "' holds " + std::to_string(value) + " twice");
    out.push_back(value);
  }
  return out;
}

CodeText read_text(const TomlTable& table, const std::vector<CodeText>& before) {
  CodeText out;
  table.allow_only(kCodeKeys);
  const std::string name = table.need_text("code");
  if (table.mistakes().any()) return out;
  const int line = table.line_of("code");
  if (const auto code = read_code(table, line, name))
    out.code = CodeRange{code->form, code->value, code->value, line};
  out.text = table.need_text("text");
  if (out.text.size() > kLongestText)
    table.mistake(table.line_of("text"), "'text' has " + std::to_string(out.text.size()) +
                                             " bytes, more than " + std::to_string(kLongestText));
  const OriginKeys origin = read_origin(table);
  out.origin = origin.origin;
  out.origin_note = origin.note;
  const auto twice = std::find_if(before.begin(), before.end(), [&](const CodeText& other) {
    return other.code.form == out.code.form && other.code.first == out.code.first;
  });
  if (twice != before.end())
    table.mistake(line, name_of(out.code.form, out.code.first) + " has two texts",
                  "the first stands in line " + std::to_string(twice->code.line));
  return out;
}

/// Of the codes and details that both speak of, the first.
std::optional<std::uint32_t> common_code(const CodeRange& a, const CodeRange& b) {
  if (a.form != b.form || a.first > b.last || b.first > a.last) return std::nullopt;
  return std::max(a.first, b.first);
}

/// An entry with failure types or FMIs is held against others that have some, one without against those without: of two that
/// differ in this the one with details wins, so they do not contradict each other.
bool speaks_of_same_details(const std::vector<std::uint8_t>& a, const std::vector<std::uint8_t>& b) {
  if (a.empty() != b.empty()) return false;
  return a.empty() || std::find_first_of(a.begin(), a.end(), b.begin(), b.end()) != a.end();
}

void check_not_twice(const TomlTable& table, const CodeRange& code, const std::vector<CodeRange>& others) {
  for (const CodeRange& other : others) {
    if (const auto common = common_code(code, other))
      table.mistake(code.line, name_of(code.form, *common) + " is classed twice",
                    "the first time in line " + std::to_string(other.line));
  }
}

CodeClassing read_class(const TomlTable& table, const std::vector<CodeClassing>& before) {
  CodeClassing out;
  table.allow_only(kClassKeys);
  out.codes = read_ranges(table);
  const auto of_form = [&](CodeRange::Form form) {
    return std::any_of(out.codes.begin(), out.codes.end(),
                       [form](const CodeRange& one) { return one.form == form; });
  };
  if (table.has("failure_types") && of_form(CodeRange::Form::spn))
    table.mistake(table.line_of("failure_types"), "an SPN has no failure type", "use 'fmi'");
  if (table.has("fmi") && of_form(CodeRange::Form::j2012))
    table.mistake(table.line_of("fmi"), "only an SPN has an FMI", "use 'failure_types'");
  out.details = read_details(table, "failure_types", kMaxFailureType);
  if (table.has("fmi")) out.details = read_details(table, "fmi", kMaxFmi);

  // The last word is for what no file classes; a file cannot say it.
  const auto words = std::span{kClassWords}.first(kClassWords.size() - 1);
  table.need("class", "known: " + list_text(words));
  if (const auto word = table.word("class", words)) out.code_class = static_cast<CodeClass>(*word);
  table.need("why", "a class is advice: give its reason in one sentence");
  out.why = table.text("why").value_or("");
  const OriginKeys origin = read_origin(table);
  out.origin = origin.origin;
  out.origin_note = origin.note;

  for (std::size_t i = 0; i < out.codes.size(); ++i) {
    check_not_twice(table, out.codes[i],
                    {out.codes.begin(), out.codes.begin() + static_cast<std::ptrdiff_t>(i)});
    for (const CodeClassing& other : before)
      if (speaks_of_same_details(out.details, other.details))
        check_not_twice(table, out.codes[i], other.codes);
  }
  return out;
}

}  // namespace

std::string_view text_of(CodeClass code_class) {
  return kClassWords[static_cast<std::size_t>(code_class)];
}

std::optional<CodeName> parse_code_name(std::string_view text) {
  if (const auto code = parse_j2012(text))
    return CodeName{CodeRange::Form::j2012, code->code, code->failure_type};
  if (!text.starts_with(kSpn)) return std::nullopt;
  text.remove_prefix(kSpn.size());
  CodeName out{CodeRange::Form::spn, 0, std::nullopt};
  if (const std::size_t at = text.find(kFmi); at != std::string_view::npos) {
    const auto fmi = whole_number(text.substr(at + kFmi.size()), kMaxFmi);
    if (!fmi) return std::nullopt;
    out.detail = static_cast<std::uint8_t>(*fmi);
    text = text.substr(0, at);
  }
  const auto spn = whole_number(text, kMaxSpn);
  if (!spn) return std::nullopt;
  out.value = *spn;
  return out;
}

Result<CodeFile> parse_code_file(std::string_view text, const std::string& name) {
  const Result<TomlValue> root = parse_toml(text, name);
  if (!root) return tl::unexpected(root.error());
  FirstMistake mistakes{name};
  const TomlTable top{*root, mistakes};
  CodeFile out;
  top.allow_only(kTopKeys);
  const FileHead head = read_file_head(top);
  out.id = head.id;
  out.title = head.title;
  if (!top.has("code") && !top.has("class"))
    top.mistake(top.line(), "the file says nothing", "it has at least one [[code]] or [[class]]");
  for (const TomlTable& one : top.tables("code")) out.texts.push_back(read_text(one, out.texts));
  for (const TomlTable& one : top.tables("class")) out.classes.push_back(read_class(one, out.classes));
  if (mistakes.any()) return tl::unexpected(mistakes.fault());
  return out;
}

}  // namespace sumplog
