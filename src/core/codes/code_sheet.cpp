#include "core/codes/code_sheet.h"

#include <algorithm>

#include "core/item/json_line.h"
#include "core/journal/wrapped_text.h"

namespace sumplog {
namespace {

constexpr double kLowSupply_v = 12.2;  // common practice, no source: ignition on, engine stopped

void add_words(std::vector<std::string>& to, const std::vector<std::string>& words) {
  for (const std::string& word : words)
    if (std::find(to.begin(), to.end(), word) == to.end()) to.push_back(word);
}

std::string value_text(const ReadingEvent& value) {
  std::string text = value.signal + " ";
  if (!value.value) return text + "no value";
  text += fixed(*value.value, value.decimals);
  if (value.unit.empty()) return text;
  return text + " " + (value.unit == "degC" ? "°C" : value.unit);
}

}  // namespace

CodeSheet::Code& CodeSheet::Unit::code(const std::string& text) {
  const auto found =
      std::find_if(codes.begin(), codes.end(), [&](const Code& one) { return one.line.code == text; });
  if (found != codes.end()) return *found;
  codes.emplace_back();
  codes.back().line.code = text;
  return codes.back();
}

void CodeSheet::on_event(const Event& event) {
  if (const auto* vehicle = std::get_if<VehicleEvent>(&event); vehicle && !vehicle->name.empty())
    names_[vehicle->ecu] = vehicle->name;
  if (const auto* codes = std::get_if<CodesEvent>(&event)) on_codes(*codes);
  if (const auto* scan = std::get_if<ScanEvent>(&event)) scan_ = *scan;
  if (const auto* compared = std::get_if<ComparedEvent>(&event)) compared_ = *compared;
}

void CodeSheet::on_codes(const CodesEvent& event) {
  if (event.scan.empty() && !name_.empty()) return;  // told outside of the scan that is shown
  const bool another = event.scan != name_ || scan_;
  if (another) {  // the first answer of another scan
    units_.clear();
    scan_.reset();
    compared_.reset();
    name_ = event.scan;
  }
  Unit& unit = units_[event.ecu];
  if (!event.refused.empty()) unit.refused.push_back(event.service + ": " + event.refused);
  if (event.monitors) unit.monitors = event.monitors;
  if (!event.lamps.empty()) unit.lamps = event.lamps;
  if (event.codes) {
    unit.told = true;
    for (const CodeLine& line : *event.codes) {
      Code& code = unit.code(line.code);
      code.line = line;
      add_words(code.status, line.status);
    }
  }
  if (!event.code.empty() && event.record.empty()) unit.frozen_by = event.code;
  if (!event.frozen.empty() && !unit.frozen_by.empty()) {
    Code& code = unit.code(unit.frozen_by);
    code.frozen.insert(code.frozen.end(), event.frozen.begin(), event.frozen.end());
  }
  if (!event.record.empty()) unit.code(event.code).records.push_back(event.service + ": " + event.record);
}

/// A unit that tells a code by SAE J1979 and by ISO 14229-1 has it once: with its failure type, and the states of both.
std::vector<CodeSheet::Code> CodeSheet::joined_codes(const std::vector<Code>& codes) {
  std::vector<Code> list = codes;
  for (const Code& brief : codes) {
    const auto full = std::find_if(list.begin(), list.end(), [&](const Code& one) {
      return one.line.code.starts_with(brief.line.code + "-");
    });
    if (full == list.end()) continue;
    std::vector<std::string> status = brief.status;
    add_words(status, full->status);
    full->status = std::move(status);
    full->frozen.insert(full->frozen.begin(), brief.frozen.begin(), brief.frozen.end());
    std::erase_if(list, [&](const Code& one) { return one.line.code == brief.line.code; });
  }
  return list;
}

void CodeSheet::add_unit(const std::string& ecu, const Unit& unit, std::vector<std::string>& lines) const {
  const auto name = names_.find(ecu);
  std::string title = ecu + (name == names_.end() ? "" : "  " + name->second);
  if (unit.told && unit.codes.empty()) title += "  no codes told";
  if (!unit.told) title += "  codes not told";
  lines.push_back(without_controls(title));
  // A unit that told its codes one way may well refuse another.
  if (!unit.told)
    for (const std::string& refused : unit.refused) add_wrapped(lines, "  ", refused);
  for (const Code& code : joined_codes(unit.codes)) {
    add_wrapped(lines, "  " + code.line.code + "  ", joined(code.status, ", "));
    if (!code.line.text.empty()) add_wrapped(lines, "      ", code.line.text);
    if (!code.line.code_class.empty())
      add_wrapped(lines, "      ",
                  code.line.code_class + (code.line.why.empty() ? "" : ": " + code.line.why));
    if (!code.frozen.empty()) {
      std::vector<std::string> values;
      for (const ReadingEvent& value : code.frozen) values.push_back(value_text(value));
      add_wrapped(lines, "      freeze frame  ", joined(values, ", "));
    }
    for (const std::string& record : code.records) add_wrapped(lines, "      record  ", record);
  }
  if (!unit.lamps.empty()) add_wrapped(lines, "  ", "warning lamps on: " + joined(unit.lamps, ", "));
  if (!unit.monitors) return;
  std::vector<std::string> open;
  for (const auto& monitor : unit.monitors->monitors)
    if (!monitor.complete) open.push_back(monitor.name);
  add_wrapped(lines, "  ",
              "warning lamp " + std::string(unit.monitors->warning_lamp ? "on" : "off") + ", " +
                  std::to_string(unit.monitors->stored) + " emission-related codes counted, readiness " +
                  (open.empty() ? "complete" : "not complete: " + joined(open, ", ")));
}

void CodeSheet::add_scan(std::vector<std::string>& lines) const {
  if (scan_->complete) {
    lines.emplace_back("The scan is complete for the units that were asked.");
  } else {
    lines.emplace_back("The scan is not complete:");
    for (const std::string& why : scan_->why) add_wrapped(lines, "  ", why);
  }
  if (scan_->supply_low_v) {
    const bool low = *scan_->supply_low_v < kLowSupply_v;
    add_wrapped(lines, "",
                "Supply voltage, lowest: " + fixed(*scan_->supply_low_v, 1) + " V" +
                    (low ? "; low supply alone sets codes: support the battery and scan again" : ""));
  }
  add_list(lines, "answered:", scan_->answered);
  add_list(lines, "silent:", scan_->silent);
  add_list(lines, "asked:", scan_->asked);
  add_list(lines, "not asked:", scan_->not_asked);
}

std::vector<std::string> CodeSheet::text() const {
  std::vector<std::string> lines;
  const std::string scan = scan_ ? scan_->scan : name_;
  lines.push_back("Fault codes in the units asked" + (scan.empty() ? "" : ", scan '" + scan + "'"));
  for (const auto& [ecu, unit] : units_) add_unit(ecu, unit, lines);
  if (units_.empty()) lines.emplace_back("No unit has told anything about its codes.");
  if (scan_)
    add_scan(lines);
  else if (!units_.empty())
    add_wrapped(lines, "",
                "There is no scan in this recording: this is what some tester asked for, and no more.");
  if (compared_) {
    lines.push_back(std::string("Against the scan before") + (compared_->complete ? ":" : ", not complete:"));
    for (const std::string& line : text_of(*compared_)) add_wrapped(lines, "  ", line);
  }
  add_wrapped(
      lines, "",
      "Nothing was cleared: what is to be cleared, the vehicle maker's procedure clears. A class is advice; "
      "the technician decides.");
  return lines;
}

std::vector<std::string> text_of(const ComparedEvent& compared) {
  std::vector<std::string> lines;
  for (const ComparedEvent::Line& one : compared.lines) {
    std::string text =
        one.ecu + "  " + (one.code.empty() ? "" : one.code + "  ") + std::string(text_of(one.change));
    const std::string before = joined(one.before, ", ");
    const std::string after = joined(one.after, ", ");
    if (one.change == CodeChange::status_changed) {
      text += ": ";
      text += before;
      text += " -> ";
      text += after;
    } else if (!before.empty() || !after.empty()) {
      text += ": " + (before.empty() ? after : before);
    }
    lines.push_back(std::move(text));
  }
  if (!compared.cleared.empty())
    lines.push_back("A memory was cleared in between: " + joined(compared.cleared, "; "));
  if (lines.empty()) lines.emplace_back("no code in either");
  return lines;
}

}  // namespace sumplog
