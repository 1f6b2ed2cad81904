#include "core/drawing/course_chart.h"

#include <algorithm>

#include "core/item/entry_names.h"
#include "core/job/engine_speed.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;

// The coolant is asked every few seconds; three answers that stay out are a gap.
constexpr Duration kCoolantPause = 15s;

constexpr std::string_view kFluid = "fluid_temperature";
constexpr std::string_view kCoolant = "coolant_temperature";
constexpr std::string_view kEngineSpeed = "engine_speed";

bool is_engine(CourseChart::MarkKind kind) {
  return kind == CourseChart::MarkKind::engine_started || kind == CourseChart::MarkKind::engine_stopped;
}

}  // namespace

std::string_view text_of(CourseChart::MarkKind kind) {
  switch (kind) {
    case CourseChart::MarkKind::plug_out: return "plug out";
    case CourseChart::MarkKind::plug_in: return "plug in";
    case CourseChart::MarkKind::engine_started: return "engine started";
    case CourseChart::MarkKind::engine_stopped: return "engine stopped";
  }
  return "";
}

CourseChart::CourseChart()
    : fluid_(JobConfiguration{}.fresh), by_hand_(0s), suspect_(0s), coolant_(kCoolantPause) {}

bool CourseChart::empty() const {
  return fluid_.pieces().empty() && by_hand_.pieces().empty() && suspect_.pieces().empty();
}

const JobConfiguration& CourseChart::configuration() const {
  if (!configuration_) configuration_ = reader_.finish();
  return *configuration_;
}

void CourseChart::on_item(const Item& item) {
  const TimePoint at = last_ ? std::max(*last_, time_of(item)) : time_of(item);
  if (!began_) began_ = at;
  last_ = at;
  if (!std::holds_alternative<Settings>(item) && !std::holds_alternative<DecoderText>(item)) return;
  reader_.on_item(item);
  configuration_.reset();
}

void CourseChart::on_event(const Event& event) {
  if (const auto* reading = std::get_if<ReadingEvent>(&event)) on_reading(*reading);
  if (const auto* thermal = std::get_if<ThermalEvent>(&event)) thermal_ = *thermal;
  if (const auto* gap = std::get_if<GapEvent>(&event)) fluid_.interrupt_before(gap->to);
  if (const auto* entry = std::get_if<EntryEvent>(&event)) {
    const TimePoint at = entry->happened.value_or(entry->at);
    if (entry->name == kPlugOut) add_mark({at, MarkKind::plug_out});
    if (entry->name == kPlugIn) add_mark({at, MarkKind::plug_in});
  }
}

void CourseChart::on_reading(const ReadingEvent& reading) {
  if (reading.signal == kFluid) on_fluid(reading);
  const Unit unit(reading.bus, reading.ecu);
  if (!reading.value || reading.quality != Quality::measured) return;
  if (reading.signal == kCoolant) {
    if (!coolant_unit_) coolant_unit_ = unit;
    if (*coolant_unit_ == unit) coolant_.add(reading.at, *reading.value);
  }
  if (reading.signal == kEngineSpeed) {
    if (!engine_unit_) engine_unit_ = unit;
    if (*engine_unit_ != unit) return;
    const bool runs = *reading.value >= kRunningRpm;
    if (engine_runs_ && *engine_runs_ != runs)
      add_mark({reading.at, runs ? MarkKind::engine_started : MarkKind::engine_stopped});
    engine_runs_ = runs;
  }
}

void CourseChart::on_fluid(const ReadingEvent& reading) {
  if (reading.quality == Quality::by_hand) {
    if (reading.value) by_hand_.add(reading.at, *reading.value);
    return;
  }
  const Unit unit(reading.bus, reading.ecu);
  if (!fluid_unit_) {
    fluid_unit_ = unit;
    fluid_.set_longest_pause(configuration().fresh);  // the age up to which a reading is live
  }
  if (*fluid_unit_ != unit) return;
  if (reading.quality == Quality::suspect || !reading.value) {
    fluid_.interrupt();
    if (reading.value) suspect_.add(reading.at, *reading.value);
    return;
  }
  fluid_.add(reading.at, *reading.value);
}

/// Of too many marks those of the engine go first: the plug says when the level was checked.
void CourseChart::add_mark(Mark mark) {
  marks_.push_back(mark);
  if (marks_.size() <= kMostMarks) return;
  ++marks_left_out_;
  const auto engine =
      std::find_if(marks_.begin(), marks_.end(), [](const Mark& one) { return is_engine(one.kind); });
  marks_.erase(engine != marks_.end() ? engine : marks_.begin());
}

void feed(CourseChart& chart, const Item& item, const std::vector<Event>& events) {
  chart.on_item(item);
  for (const Event& event : events) chart.on_event(event);
}

}  // namespace sumplog
