#include "core/drawing/job_notes.h"

#include <algorithm>

#include "core/item/entry_names.h"
#include "core/job/entry_fields.h"

namespace sumplog {

void JobNotes::on_event(const Event& event) {
  if (const auto* check = std::get_if<CheckEvent>(&event))
    if (checks_.items.empty() || checks_.items.back().state != check->state ||
        checks_.items.back().why != check->why)
      checks_.add(*check);
  if (const auto* hold = std::get_if<HoldEvent>(&event)) holds_.add(*hold);
  if (const auto* gap = std::get_if<GapEvent>(&event)) gaps_.add(*gap);
  if (const auto* step = std::get_if<ClockEvent>(&event)) clock_steps_.add(*step);
  if (const auto* loss = std::get_if<LossEvent>(&event)) on_loss(*loss);
  if (const auto* entry = std::get_if<EntryEvent>(&event)) on_entry(*entry);
}

void JobNotes::on_entry(const EntryEvent& event) {
  const Entry entry{event.at, event.id, event.name, event.fields};
  const TimePoint at = event.happened.value_or(event.at);
  const auto text = [&](std::string_view key) { return text_field(entry, key).value_or(""); };
  if (entry.name == kReadingByHand)
    if (const auto value = number_field(entry, "value_c")) hand_readings_.add({at, *value, text("place")});
  if (entry.name == kConfirmed) {
    const std::string origin = text("origin");
    ticks_.add({at, text("what") + " confirmed" + (origin.empty() ? "" : ", origin: " + origin), text("by")});
  }
  if (entry.name == kConditionTicked)
    ticks_.add(
        {at,
         text("condition") + (flag_field(entry, "holds").value_or(true) ? ": holds" : ": holds no longer"),
         text("by")});
  if (entry.name == kSelectorCycleDone) ticks_.add({at, "selector cycle done", text("by")});
}

void JobNotes::on_loss(const LossEvent& event) {
  auto known = std::find_if(losses_.begin(), losses_.end(),
                            [&](const Loss& one) { return one.ecu == event.ecu && one.why == event.why; });
  if (known == losses_.end()) {
    if (losses_.size() < kMost)
      known = losses_.insert(losses_.end(), {event.ecu, event.why, 0, 0, event.at, event.at});
    else if (losses_.size() == kMost)
      known = losses_.insert(losses_.end(), {"", "of other kinds", 0, 0, event.at, event.at});
    else
      known = losses_.end() - 1;
  }
  ++known->times;
  known->frames += event.frames;
  known->last = event.at;
}

}  // namespace sumplog
