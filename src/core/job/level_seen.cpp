#include "core/job/level_seen.h"

#include <algorithm>
#include <array>

#include "core/job/entry_fields.h"

namespace sumplog {
namespace {

// Common practice, no source: a drip is less than 20 ml in a minute, a thread up to 100, a stream more.
constexpr double kThreadFrom_ml = 20.0 / 6;
constexpr double kStreamAbove_ml = 100.0 / 6;
constexpr double kMost_ml = 10'000;  // own choice: a slip of the pen

constexpr std::array<std::string_view, 4> kFlows{"dry", "drip", "thread", "stream"};

}  // namespace

std::string_view flow_of(double ml_in_10_s) {
  if (ml_in_10_s <= 0) return "dry";
  if (ml_in_10_s < kThreadFrom_ml) return "drip";
  return ml_in_10_s <= kStreamAbove_ml ? "thread" : "stream";
}

std::optional<LevelSeen> level_seen(const Entry& entry, const std::optional<ServiceFile>& service) {
  LevelSeen seen;
  const std::string flow = text_field(entry, "flow").value_or("");
  if (std::find(kFlows.begin(), kFlows.end(), flow) != kFlows.end()) seen.flow = flow;
  seen.ml_in_10_s = number_field(entry, "ml_in_10_s");
  if (seen.ml_in_10_s && !(*seen.ml_in_10_s >= 0 && *seen.ml_in_10_s <= kMost_ml)) seen.ml_in_10_s.reset();
  if (seen.flow.empty() && !seen.ml_in_10_s) return std::nullopt;
  if (seen.flow.empty()) seen.flow = flow_of(*seen.ml_in_10_s);
  seen.by = text_field(entry, "by").value_or("");
  if (!service || !service->criterion) return seen;
  seen.criterion = service->criterion->value;
  const bool collected = !seen.ml_in_10_s || flow_of(*seen.ml_in_10_s) == seen.criterion;
  seen.reached = seen.flow == seen.criterion && collected;
  return seen;
}

}  // namespace sumplog
