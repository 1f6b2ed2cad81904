#include "core/codes/code_comparison.h"

#include <set>

#include "core/isotp/addressing.h"
#include "core/item/json_line.h"
#include "core/journal/wrapped_text.h"

namespace sumplog {
namespace {

CodeChange change_of(const UnitCodes& before, const UnitCodes& after, const std::string& code) {
  const auto was = before.codes.find(code);
  const auto is = after.codes.find(code);
  if (was != before.codes.end() && is != after.codes.end())
    return was->second == is->second ? CodeChange::same : CodeChange::status_changed;
  if (was != before.codes.end()) return after.told ? CodeChange::gone : CodeChange::silent_now;
  return before.told ? CodeChange::appeared : CodeChange::silent_before;
}

std::vector<std::string> status_in(const UnitCodes& unit, const std::string& code) {
  const auto found = unit.codes.find(code);
  return found == unit.codes.end() ? std::vector<std::string>{} : found->second;
}

void compare_unit(const std::string& ecu, const UnitCodes& before, const UnitCodes& after,
                  ComparedEvent& out) {
  std::set<std::string> codes;
  for (const auto& [code, status] : before.codes) codes.insert(code);
  for (const auto& [code, status] : after.codes) codes.insert(code);
  for (const std::string& code : codes)
    out.lines.push_back(
        {ecu, code, change_of(before, after, code), status_in(before, code), status_in(after, code)});
  if (codes.empty() && before.told != after.told)
    out.lines.push_back({ecu, {}, before.told ? CodeChange::silent_now : CodeChange::silent_before, {}, {}});
}

/// A memory that was cleared starts to count anew, and its monitors are incomplete again.
void find_clearing(const std::string& ecu, const UnitCodes& before, const UnitCodes& after,
                   ComparedEvent& out) {
  for (const auto& [signal, was] : before.since_cleared) {
    const auto is = after.since_cleared.find(signal);
    if (is != after.since_cleared.end() && is->second < was)
      out.cleared.push_back(
          joined({ecu + ":", signal, fixed(was, 0), "before,", fixed(is->second, 0), "after"}, " "));
  }
  if (!before.monitors || !after.monitors) return;
  std::vector<std::string> again;
  for (const auto& was : before.monitors->monitors)
    for (const auto& is : after.monitors->monitors)
      if (was.name == is.name && was.complete && !is.complete) again.push_back(was.name);
  if (!again.empty())
    out.cleared.push_back(ecu + ": monitors complete before and not after: " + joined(again, ", "));
}

}  // namespace

ComparedEvent compare(const ScanResult& before, const ScanResult& after) {
  const UnitCodes nothing;
  ComparedEvent out;
  out.complete = before.complete && after.complete;
  std::set<Endpoint> units;
  for (const auto& [unit, codes] : before.units) units.insert(unit);
  for (const auto& [unit, codes] : after.units) units.insert(unit);
  for (const Endpoint& unit : units) {
    const auto was = before.units.find(unit);
    const auto is = after.units.find(unit);
    const UnitCodes& old = was == before.units.end() ? nothing : was->second;
    const UnitCodes& now = is == after.units.end() ? nothing : is->second;
    const std::string ecu = ecu_text(unit.id, unit.address);
    compare_unit(ecu, old, now, out);
    find_clearing(ecu, old, now, out);
  }
  return out;
}

}  // namespace sumplog
