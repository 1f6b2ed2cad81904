#include "core/codes/code_table.h"

#include <algorithm>

namespace sumplog {
namespace {

bool holds(const CodeRange& range, const CodeName& name) {
  return range.form == name.form && range.first <= name.value && name.value <= range.last;
}
bool holds(const CodeClassing& entry, const CodeName& name) {
  return std::any_of(entry.codes.begin(), entry.codes.end(),
                     [&](const CodeRange& range) { return holds(range, name); });
}

const CodeText* text_in(const CodeFile& file, const CodeName& name) {
  const auto found = std::find_if(file.texts.begin(), file.texts.end(),
                                  [&](const CodeText& one) { return holds(one.code, name); });
  return found == file.texts.end() ? nullptr : &*found;
}

const CodeClassing* class_in(const CodeFile& file, const CodeName& name) {
  const CodeClassing* any = nullptr;
  for (const CodeClassing& one : file.classes) {
    if (!holds(one, name)) continue;
    if (one.details.empty()) {
      any = &one;
    } else if (name.detail &&
               std::find(one.details.begin(), one.details.end(), *name.detail) != one.details.end()) {
      return &one;
    }
  }
  return any;
}

}  // namespace

CodeMeaning CodeTable::find(const CodeName& name) const {
  CodeMeaning out;
  const CodeText* text = nullptr;
  const CodeClassing* classed = nullptr;
  for (auto file = files_.rbegin(); file != files_.rend(); ++file) {
    if (text == nullptr) text = text_in(*file, name);
    if (classed == nullptr) classed = class_in(*file, name);
  }
  if (text != nullptr) {
    out.known = true;
    out.text = text->text;
    out.text_origin = text->origin;
    out.text_note = text->origin_note;
  }
  if (classed != nullptr) {
    out.code_class = classed->code_class;
    out.why = classed->why;
    out.class_origin = classed->origin;
    out.class_note = classed->origin_note;
  }
  return out;
}

CodeMeaning CodeTable::find(std::string_view code, std::optional<std::uint8_t> detail) const {
  std::optional<CodeName> name = parse_code_name(code);
  if (!name) return {};
  if (!name->detail) name->detail = detail;
  return find(*name);
}

CodeMeaning CodeTable::find(const J2012Code& code) const {
  return find(CodeName{CodeRange::Form::j2012, code.code, code.failure_type});
}

CodeMeaning CodeTable::find_spn(std::uint32_t spn, std::optional<std::uint8_t> fmi) const {
  return find(CodeName{CodeRange::Form::spn, spn, fmi});
}

}  // namespace sumplog
