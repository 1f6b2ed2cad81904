#pragma once
#include <algorithm>
#include <functional>
#include <string>
#include <string_view>
#include <vector>

#include "core/asker/live_vehicle.h"

namespace sumplog::testing {

/// The shipped whole job: captures/demo-9/whole-job, as data that a test may change.
inline Scenario whole_job() {
  return scenario_from(file_text(std::string(SUMPLOG_SOURCE) + "/captures/demo-9/whole-job/scenario.toml"));
}

/// Its opening items; `change` may rewrite the service file.
inline std::vector<Item> whole_job_opening(const std::function<void(std::string&)>& change = {}) {
  std::vector<Item> items = demo_opening();
  for (Item& item : items)
    if (auto* text = std::get_if<DecoderText>(&item); text && change && text->name.ends_with("service.toml"))
      change(text->text);
  const std::string codes = "obd-generic/codes.toml";
  items.emplace_back(
      DecoderText{kJobStart, codes, file_text(std::string(SUMPLOG_SOURCE) + "/decoders/" + codes)});
  return items;
}

/// A job that was run to its end and closed.
class WholeJobRun : public LiveVehicle {
 public:
  explicit WholeJobRun(const Scenario& scenario, const std::vector<Item>& opening = whole_job_opening())
      : LiveVehicle(scenario, opening) {
    run_for(scenario.lasts + std::chrono::seconds{1});
    close();
  }
};

inline void replace(std::string& text, std::string_view from, std::string_view to) {
  const std::size_t at = text.find(from);
  ASSERT_NE(at, std::string::npos) << from;
  text.replace(at, from.size(), to);
}

inline Duration at_s(double seconds) {
  return Duration{static_cast<Duration::rep>(seconds * 1e6)};
}

/// One more thing happens.
inline void happens(Scenario& scenario, double at, decltype(ScenarioEvent::change) change) {
  scenario.events.push_back({at_s(at), std::move(change)});
  std::stable_sort(scenario.events.begin(), scenario.events.end(),
                   [](const ScenarioEvent& a, const ScenarioEvent& b) { return a.at < b.at; });
}
inline void enters(Scenario& scenario, double at, const std::string& name, const std::string& fields = "{}") {
  scenario.entries.push_back({at_s(at), name, fields});
  std::stable_sort(scenario.entries.begin(), scenario.entries.end(),
                   [](const EntryPlan& a, const EntryPlan& b) { return a.at < b.at; });
}
/// Nobody enters it.
inline void forgets(Scenario& scenario, std::string_view name, std::string_view in_fields = {}) {
  const auto gone = std::erase_if(scenario.entries, [&](const EntryPlan& one) {
    return one.name == name && one.fields.find(in_fields) != std::string::npos;
  });
  ASSERT_GT(gone, 0U) << name;
}

}  // namespace sumplog::testing
