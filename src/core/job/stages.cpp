#include "core/job/stages.h"

#include <algorithm>

#include "core/item/entry_names.h"
#include "core/job/entry_fields.h"

namespace sumplog {
namespace {

std::optional<StageChange> change_of(std::string_view entry_name) {
  if (entry_name == kStageBegun) return StageChange::begun;
  if (entry_name == kStageEnded) return StageChange::ended;
  if (entry_name == kStageSkipped) return StageChange::skipped;
  return std::nullopt;
}

}  // namespace

std::optional<std::string_view> stage_named(std::string_view name) {
  const auto* const found = std::find(kStages.begin(), kStages.end(), name);
  return found == kStages.end() ? std::nullopt : std::optional(*found);
}

void Stages::on_entry(const Entry& entry, std::vector<Event>& events) {
  const auto change = change_of(entry.name);
  if (!change) return;
  const auto stage = stage_named(text_field(entry, "stage").value_or(""));
  if (!stage) return;  // the entry itself stands in the journal
  const auto happened = said_time(entry);
  StageEvent event{entry.at, std::string(*stage), *change, {}, happened};
  switch (*change) {
    case StageChange::begun: begin(*stage, happened.value_or(entry.at)); break;
    case StageChange::ended: end(*stage, happened.value_or(entry.at)); break;
    case StageChange::skipped: event.why = text_field(entry, "why").value_or(""); break;
  }
  events.emplace_back(std::move(event));
}

void Stages::begin(std::string_view stage, TimePoint at) {
  // Begun again while it is open: from now on it is that one.
  std::erase_if(open_, [&](const Open& one) { return one.stage == stage && one.begun <= at; });
  const bool open = std::any_of(open_.begin(), open_.end(), [&](const Open& o) { return o.stage == stage; });
  if (open) return;
  const auto later =
      std::find_if(open_.begin(), open_.end(), [&](const Open& one) { return one.begun > at; });
  open_.insert(later, {stage, at});
}

void Stages::end(std::string_view stage, TimePoint at) {
  // One that was begun after this end, which came late, goes on.
  std::erase_if(open_, [&](const Open& one) { return one.stage == stage && one.begun <= at; });
}

std::optional<std::string_view> Stages::current() const {
  return open_.empty() ? std::nullopt : std::optional(open_.back().stage);
}

}  // namespace sumplog
