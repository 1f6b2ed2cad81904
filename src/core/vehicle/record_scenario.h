#pragma once
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "core/item/item.h"
#include "core/item/result.h"
#include "core/vehicle/scenario.h"

namespace sumplog {

/// Plays a scenario from its start to its end on a virtual bus: the vehicle, and a tester that asks by the
/// plan. out  what the tester's adapter would have recorded, in order: frames, and link events where the
/// scenario has them. Equal
///      scenarios give equal items, on every machine.
[[nodiscard]] std::vector<Item> record_scenario(const Scenario& scenario);

/// The same from the text of a scenario.toml.
/// err  as parse_scenario
[[nodiscard]] Result<std::vector<Item>> record_scenario(std::string_view text, const std::string& name);

/// Items as the text of a capture.log: candump lines; when there is anything else among them, the first line
/// of a job file before them and item lines for it.
[[nodiscard]] std::string capture_text(std::span<const Item> items);

}  // namespace sumplog
