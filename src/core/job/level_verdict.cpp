#include "core/job/level_verdict.h"

#include <algorithm>

#include "core/item/json_line.h"
#include "core/job/entry_fields.h"
#include "core/job/level_seen.h"
#include "core/job/verdict_words.h"

namespace sumplog {
namespace {

/// Where the service file says nothing else: codes were read at most so long before plug out. Common practice, no source.
constexpr Duration kCodesWithin = std::chrono::minutes{15};

constexpr std::size_t kMostAdded = 64;  // own choice: more pourings than a job has in its last minutes
constexpr std::size_t kMostHoles = 16;  // own choice: of more, the last one grows

void add(std::vector<std::string>& why, std::string reason) {
  if (!reason.empty()) why.push_back(std::move(reason));
}

/// A spell that began and ended with one of the holes, give or take the age up to which a reading is live.
bool lies_in(const Spell& spell, const std::vector<Spell>& holes, Duration slack) {
  return std::any_of(holes.begin(), holes.end(), [&](const Spell& hole) {
    return spell.from >= hole.from - slack && spell.to <= hole.to + slack;
  });
}

}  // namespace

LevelVerdict::LevelVerdict(const JobConfiguration& configuration)
    : service_(configuration.service),
      window_(configuration.window),
      fresh_(configuration.fresh),
      confirmations_(configuration) {}

void LevelVerdict::on_plug_out(const PlugMoved& plug) {
  if (check_) return;  // out already: the earlier moment counts
  check_ = Check{plug, {}, {}, {}, {}};
  record_.keep_from(plug.at);
  if (!service_ || !service_->decision_point || !plug.temp_c) return;
  // What was passed before it was entered that the plug is out.
  const double point_c = service_->decision_point->value.value;
  if (*plug.temp_c < point_c) check_->decision_c = record_.course().first_from(point_c, plug.at, plug.now);
  check_->decision_at = plug.now;
}

void LevelVerdict::on_fluid(TimePoint at, double value_c) {
  if (!check_ || check_->decision_c || !service_ || !service_->decision_point) return;
  const double point_c = service_->decision_point->value.value;
  if (!check_->out.temp_c || *check_->out.temp_c >= point_c || value_c < point_c) return;
  check_->decision_c = value_c;
  check_->decision_at = at;
}

void LevelVerdict::on_fluid_added(TimePoint at) {
  added_.push_back(at);
  if (added_.size() > kMostAdded) added_.pop_front();
}

void LevelVerdict::on_hole(TimePoint from, TimePoint to, const std::string& why) {
  if (!check_) return;
  auto& holes = check_->holes;
  if (!holes.empty() && (holes.back().detail == why || holes.size() == kMostHoles))
    holes.back().to = to;
  else
    holes.push_back({from, from, to, why, true, {}});
}

void LevelVerdict::on_plug_in(const PlugMoved& plug, std::vector<Event>& events) {
  if (!check_) return;
  last_ = judge(plug);
  check_.reset();
  record_.keep_from(std::nullopt);
  events.emplace_back(*last_);
}

void LevelVerdict::on_end(const PlugMoved& end, std::vector<Event>& events) {
  if (!check_) return;
  VerdictEvent verdict = judge(end);
  verdict.kept = false;
  verdict.why.insert(verdict.why.begin(), "the plug was out when the recording ended");
  check_.reset();
  last_.reset();
  events.emplace_back(std::move(verdict));
}

void LevelVerdict::on_level_seen(const Entry& entry, std::vector<Event>& events) {
  auto seen = level_seen(entry, service_);
  if (!seen) return;
  const TimePoint at = said_time(entry).value_or(entry.at);
  if (check_ && at >= check_->out.at) {
    check_->seen = std::move(seen);
  } else if (last_ && at >= last_->out) {
    last_->at = entry.at;
    last_->level_seen = std::move(seen);
    events.emplace_back(*last_);
  }
}

VerdictEvent LevelVerdict::judge(const PlugMoved& in) const {
  const TimePoint out = check_->out.at;
  // A second thermometer that was read at both ends stands in for readings that were lost, and for a unit that fault codes speak
  // against or that was not asked for them.
  std::vector<std::string> against_unit;
  if (service_) object_to_unit(in, against_unit);
  const bool needed = !against_unit.empty() || !record_.of(Condition::reading).between(out, in.at).empty();
  const bool by_hand = needed && record_.known_by_hand(out) && record_.known_by_hand(in.at);
  VerdictEvent verdict;
  verdict.at = in.now;
  verdict.thermometer = by_hand ? Quality::by_hand : Quality::measured;
  verdict.why = reasons(in, by_hand);
  verdict.kept = verdict.why.empty();
  verdict.out = out;
  verdict.in = in.at;
  verdict.by_hand = words_of_a_person(in, by_hand);
  verdict.temp_out_c = check_->out.temp_c;
  verdict.temp_in_c = in.temp_c;
  if (check_->decision_at <= in.at) verdict.temp_decision_c = check_->decision_c;
  const Course::Span span = record_.course().between(out, in.at);
  verdict.temp_low_c = span.low_c;
  verdict.temp_high_c = span.high_c;
  for (const auto& end_c : {verdict.temp_out_c, verdict.temp_in_c}) {
    if (!end_c) continue;
    verdict.temp_low_c = std::min(verdict.temp_low_c.value_or(*end_c), *end_c);
    verdict.temp_high_c = std::max(verdict.temp_high_c.value_or(*end_c), *end_c);
  }
  verdict.rate_c_per_min = span.rate_c_per_min;
  verdict.engine_rpm = span.mean_rpm;
  const Condition lost = by_hand ? Condition::by_hand : Condition::reading;
  Duration inside = in.at - out - lasted(record_.of(lost).between(out, in.at));
  if (!by_hand) inside -= lasted(window_spells(in.at, by_hand));
  verdict.inside_for_s = in_seconds(std::max(inside, Duration{0}));
  verdict.level_seen = check_->seen;
  verdict.origin = confirmations_.window_origin();
  return verdict;
}

std::vector<std::string> LevelVerdict::words_of_a_person(const PlugMoved& in, bool by_hand) const {
  std::vector<std::string> words;
  const auto late = [&](const char* what, const PlugMoved& plug) {
    if (plug.now > plug.at)
      words.push_back(what + (" " + fixed(in_seconds(plug.now - plug.at), 0)) + " s ago");
  };
  late("plug out", check_->out);
  late("plug in", in);
  if (by_hand) words.emplace_back("fluid temperature");
  if (check_->out.cycle_by_hand) words.emplace_back("selector cycle");
  if (service_ && service_->by_hand)
    words.insert(words.end(), service_->by_hand->value.begin(), service_->by_hand->value.end());
  for (std::string& one : confirmations_.by_hand(by_hand || in.agreed_cold)) words.push_back(std::move(one));
  return words;
}

std::vector<std::string> LevelVerdict::reasons(const PlugMoved& in, bool by_hand) const {
  std::vector<std::string> why;
  if (!service_) {
    why.emplace_back("no service file: the conditions of the level check are not known");
    return why;
  }
  for (const Spell& hole : check_->holes)
    if (hole.from < in.at) why.push_back(hole.detail);
  object_to_reading(in.at, by_hand, why);
  object_to_state(in.at, by_hand, why);
  object_to_settling(in.at, why);
  if (!by_hand) object_to_unit(in, why);
  object_to_preparation(in.at, why);
  if (window_)
    if (auto reason = confirmations_.window_reason()) why.push_back(std::move(*reason));
  if (by_hand) return why;
  if (auto reason = confirmations_.decoder_reason()) why.push_back(std::move(*reason));
  if (auto reason = confirmations_.thermometer_reason(in.agreed_cold)) why.push_back(std::move(*reason));
  return why;
}

std::vector<Spell> LevelVerdict::window_spells(TimePoint in, bool by_hand) const {
  const TimePoint out = check_->out.at;
  std::vector<Spell> spells = record_.of(Condition::window).between(out, in);
  if (!by_hand) return spells;
  // A unit against which fault codes speak the whole time says nothing of the window.
  if (lasted(record_.of(Condition::sensor_code).between(out, in)) == in - out) spells.clear();
  // A reading at the very moment of plug in counts.
  for (Spell& one : record_.of(Condition::by_hand).between(out, in + Duration{1}))
    if (!one.unknown) spells.push_back(std::move(one));
  std::stable_sort(spells.begin(), spells.end(),
                   [](const Spell& a, const Spell& b) { return a.from < b.from; });
  return spells;
}

void LevelVerdict::object_to_reading(TimePoint in, bool by_hand, std::vector<std::string>& why) const {
  if (!window_) return why.emplace_back("no window is set"), void();
  const TimePoint out = check_->out.at;
  const auto all = record_.of(Condition::reading).between(out, in);
  const auto lost = unexplained(Condition::reading, in, check_->holes);
  if (!lost.empty() && !by_hand) {
    const auto longest = std::max_element(lost.begin(), lost.end(), [](const Spell& a, const Spell& b) {
      return a.to - a.since < b.to - b.since;
    });
    const bool begun_by_hand = record_.known_by_hand(out);
    const bool ended_by_hand = record_.known_by_hand(in);
    if (lasted(all) == in - out && begun_by_hand != ended_by_hand)
      add(why, std::string("no reading by hand at plug ") + (begun_by_hand ? "in" : "out"));
    else
      add(why, "the reading was lost " + spells_words(lost, out) + ": " + longest->detail);
  }
  add(why, reason_words(window_spells(in, by_hand), out, "",
                        [](const std::string& side) { return "the fluid was " + side + " the window"; }));
  if (record_.of(Condition::start_limit).at(out) && service_->start_limit)
    add(why, "begun above the start limit of " + fixed(service_->start_limit->value.value, 0) +
                 " °C after the window was exceeded");
}

std::vector<Spell> LevelVerdict::unexplained(Condition condition, TimePoint in,
                                             const std::vector<Spell>& holes) const {
  auto spells = record_.of(condition).between(check_->out.at, in);
  std::erase_if(spells, [&](const Spell& one) { return one.unknown && lies_in(one, holes, fresh_); });
  return spells;
}

void LevelVerdict::object_to_state(TimePoint in, bool by_hand, std::vector<std::string>& why) const {
  const TimePoint out = check_->out.at;
  // When the bus was away nothing was seen: that is one reason, and it was told with the reading.
  std::vector<Spell> holes = check_->holes;
  if (!by_hand)
    for (Spell& one : record_.of(Condition::reading).between(out, in)) holes.push_back(std::move(one));
  const bool runs = !service_->engine || service_->engine->value == EngineState::running;
  add(why, reason_words(unexplained(Condition::engine, in, holes), out, "engine speed was not known",
                        [&](const std::string&) {
                          return std::string(runs ? "the engine was off" : "the engine was running");
                        }));
  add(why, reason_words(unexplained(Condition::idle, in, holes), out, "",
                        [](const std::string&) { return std::string("the engine was not at idle"); }));
  add(why, reason_words(unexplained(Condition::vehicle, in, holes), out, "vehicle speed was not known",
                        [](const std::string&) { return std::string("the vehicle moved"); }));
  add(why, reason_words(unexplained(Condition::selector, in, holes), out, "selector position was not known",
                        [](const std::string& position) {
                          return "the selector was in " +
                                 (position.empty() ? "an unknown position" : position);
                        }));
}

bool LevelVerdict::unsettled(TimePoint at) const {
  if (!service_->settling_time) return false;
  return std::any_of(added_.begin(), added_.end(), [&](TimePoint added) {
    return added <= at && at - added < service_->settling_time->value;
  });
}

void LevelVerdict::object_to_settling(TimePoint in, std::vector<std::string>& why) const {
  if (record_.of(Condition::settled).at(check_->out.at))
    add(why, "the plug came out within the settling time after engine start");
  if (unsettled(check_->out.at))
    add(why, "the plug came out within the settling time after fluid was added");
  else if (unsettled(in))
    add(why, "the plug came in within the settling time after fluid was added");
}

void LevelVerdict::object_to_unit(const PlugMoved& in, std::vector<std::string>& why) const {
  const auto codes = record_.of(Condition::sensor_code).between(check_->out.at, in.at);
  if (!codes.empty()) add(why, codes.front().detail);
  const auto& read_at = check_->out.codes_read_at;
  const Duration within = service_->codes_read ? service_->codes_read->value : kCodesWithin;
  const Duration before = read_at ? check_->out.at - *read_at : Duration{0};
  if (!read_at)
    add(why, "fault codes of the unit that gives the temperature were not read");
  else if (before > within)
    add(why, "fault codes were read " + seconds_words(before) + " before plug out, more than " +
                 seconds_words(within));
  else if (before < Duration{0})
    add(why, "fault codes were read after plug out, not before it");
}

void LevelVerdict::object_to_preparation(TimePoint in, std::vector<std::string>& why) const {
  const TimePoint out = check_->out.at;
  if (const auto missing = record_.of(Condition::selector_cycle).at(out))
    add(why, "the selector cycle was not complete at plug out: " + missing->detail);
  for (const auto& [condition, spells] : record_.ticks()) {
    const auto unticked = spells.between(out, in);
    // Ticked after plug out it still is a person's word for the whole check; unticked it is not.
    const bool taken_back = std::any_of(unticked.begin(), unticked.end(),
                                        [&](const Spell& one) { return one.from > out || one.to >= in; });
    if (taken_back) add(why, "not ticked: " + condition);
  }
}

}  // namespace sumplog
