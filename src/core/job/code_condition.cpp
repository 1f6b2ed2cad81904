#include "core/job/code_condition.h"

#include <algorithm>

#include "core/codes/code_file.h"
#include "core/journal/wrapped_text.h"

namespace sumplog {
namespace {

constexpr Duration kLongestPause =
    std::chrono::seconds{5};                       // ours: active codes of SAE J1939 come every second
constexpr std::string_view kEveryFault = "19 02";  // ISO 14229-1, by a mask of at least what a scan asks for

bool lists_present_codes(const std::string& service) {
  return service == "03" || service == kEveryFault || service == "DM1";
}

/// A unit of SAE J1939 has an identifier for each group: its address is the last byte.
BusUnit unit_of(const BusUnit& unit) {
  constexpr std::size_t kExtended = 8;  // hexadecimal digits
  const auto& [bus, ecu] = unit;
  const bool j1939 = ecu.size() == kExtended && !ecu.starts_with("18DA");
  return {bus, j1939 ? "J1939 " + ecu.substr(kExtended - 2) : ecu};
}

std::string minutes_text(Duration time) {
  return std::to_string(std::chrono::duration_cast<std::chrono::minutes>(time).count()) + " minutes";
}

}  // namespace

void CodeCondition::on_codes(const CodesEvent& codes) {
  if (!codes.codes) return;
  std::vector<std::string> objecting;
  for (const CodeLine& code : *codes.codes)
    if (code.code_class == text_of(CodeClass::invalidates_level_check)) objecting.push_back(code.code);
  const BusUnit unit{codes.bus, codes.ecu};
  if (codes.service == kEveryFault)  // it has what narrower masks had, and tells what has become of it
    std::erase_if(sensor_codes_, [&](const auto& told) {
      return told.first.first == unit && told.first.second.starts_with("19 ");
    });
  sensor_codes_[{unit, codes.service}] = std::move(objecting);
  if (lists_present_codes(codes.service)) on_told_again(unit, codes.at);
}

void CodeCondition::on_told_again(const BusUnit& unit, TimePoint at) {
  Read& read = reads_.try_emplace(unit_of(unit), Read{at, at}).first->second;
  if (at - read.last > kLongestPause) read.first = at;
  read.last = at;
}

std::vector<std::string> CodeCondition::objections() const {
  std::map<std::string, std::vector<std::string>> by_unit;
  for (const auto& [key, codes] : sensor_codes_)
    for (const std::string& code : codes) {
      auto& list = by_unit[key.first.second];
      if (std::find(list.begin(), list.end(), code) == list.end()) list.push_back(code);
    }
  std::vector<std::string> texts;
  texts.reserve(by_unit.size());
  for (const auto& [ecu, codes] : by_unit)
    texts.push_back("fault code " + joined(codes, ", ") + " in " + ecu +
                    ": the fluid temperature may be invented; use a second thermometer");
  return texts;
}

bool CodeCondition::objects() const {
  return std::any_of(sensor_codes_.begin(), sensor_codes_.end(),
                     [](const auto& one) { return !one.second.empty(); });
}

const CodeCondition::Read* CodeCondition::read_of(const BusUnit& unit) const {
  const auto read = reads_.find(unit_of(unit));
  return read == reads_.end() ? nullptr : &read->second;
}

std::optional<TimePoint> CodeCondition::read_at(const BusUnit& unit, TimePoint by) const {
  const Read* const read = read_of(unit);
  if (read == nullptr) return std::nullopt;
  return read->first > by ? read->first : std::min(read->last, by);
}

std::string CodeCondition::missing(const BusUnit& unit, Duration within, TimePoint now) const {
  const Read* const read = read_of(unit);
  if (read == nullptr) return "fault codes of the unit that gives the temperature were not read";
  if (plug_out_at_.value_or(now) - read->last <= within) return {};
  return "fault codes were read more than " + minutes_text(within) +
         " ago: read them again, with the plug in";
}

std::optional<TimePoint> CodeCondition::ends(const BusUnit& unit, Duration within) const {
  const Read* const read = read_of(unit);
  if (read == nullptr || plug_out_at_) return std::nullopt;
  return read->last + within + Duration{1};
}

}  // namespace sumplog
