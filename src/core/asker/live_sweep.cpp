#include "core/asker/live_sweep.h"

#include <algorithm>
#include <variant>

#include "core/isotp/addressing.h"
#include "core/item/entry_names.h"
#include "core/item/json_line.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;

// Ours, no source.
constexpr Duration kSayWhyNot = 15s;  // a bus that was just found needs some seconds to tell codes and speed
constexpr Duration kLongestPause = 15s;  // without the speed nobody knows what happens

constexpr std::string_view kProgram = "sumplog";  // who wrote the note

}  // namespace

LiveSweep::LiveSweep(const AskerSettings& settings, TimePoint start)
    : ranges_(text_of(settings.sweep)),
      sweep_(settings.sweep, settings.bus),
      conditions_(settings.bus, sweep_.units(), ranges_),
      start_(start) {}

void LiveSweep::on_past(const Output& output) {
  for (const Exchange& exchange : output.exchanges) sweep_.on_exchange(exchange);
}

void LiveSweep::on_written(const Item& item, const Output& output) {
  if (const auto* entry = std::get_if<Entry>(&item)) conditions_.on_entry(*entry);
  for (const Event& event : output.events) conditions_.on_event(event);
  for (const Exchange& exchange : output.exchanges) {
    sweep_.on_exchange(exchange);
    conditions_.on_exchange(exchange);
  }
}

void LiveSweep::note(const std::string& text, TimePoint now, std::vector<Item>& record) {
  record.emplace_back(Entry{now, "sweep-" + std::to_string(micros(now)) + "-" + std::to_string(++notes_),
                            std::string(kNote), JsonLine().text("text", text).text("by", kProgram).take()});
}

bool LiveSweep::on_time(TimePoint now, bool plug_out, Asker& asker, std::vector<Item>& record) {
  conditions_.set_plug_out(plug_out);
  if (over_) {
    asker.stop_sweep();  // also what came back because it could not be sent
    return false;
  }
  if (!polls_) {
    for (Task& task : conditions_.polls(now)) asker.ask_for_sweep(std::move(task));
    polls_ = true;
  }
  for (const Endpoint& unit : sweep_.units())
    if (const auto why = asker.sweep_refused(unit); why && !stopped_.contains(unit))
      stop_unit(unit, *why, now, asker, record);
  if (over_) return false;
  if (!begun_ && !may_begin(now, record)) return false;
  if (!may_ask(now, asker, record)) return false;
  bool handed = false;
  for (const Endpoint& unit : sweep_.units())
    if (!stopped_.contains(unit)) handed = ask_unit(unit, now, asker, record) || handed;
  return handed;
}

bool LiveSweep::may_begin(TimePoint now, std::vector<Item>& record) {
  const auto hindrance = conditions_.hindrance(now);
  if (hindrance) {
    waits_for_ = *hindrance;
    if (!told_why_not_ && now - start_ >= kSayWhyNot) {
      told_why_not_ = true;
      note("sweep not begun: " + *hindrance, now, record);
    }
    return false;
  }
  begun_ = true;
  waits_for_.clear();
  conditions_.begin(now);
  sweep_.begin();
  note("sweep begun: " + ranges_ + ", agreed by " + conditions_.agreed_by() +
           "; fault codes before: " + conditions_.codes_before(),
       now, record);
  return true;
}

bool LiveSweep::may_ask(TimePoint now, Asker& asker, std::vector<Item>& record) {
  if (const auto breach = conditions_.breach(now)) {
    stop(*breach, now, asker, record);
    return false;
  }
  const auto pause = conditions_.pause(now);
  if (!pause) {
    waits_since_.reset();
    waits_for_.clear();
    return true;
  }
  if (!waits_since_) waits_since_ = now;
  waits_for_ = *pause;
  asker.hold_sweep();
  for (const Endpoint& unit : sweep_.units())
    if (!asker.sweep_asks(unit)) sweep_.take_back(unit);
  if (now - *waits_since_ >= kLongestPause) stop(*pause, now, asker, record);
  return false;
}

void LiveSweep::stop(const std::string& why, TimePoint now, Asker& asker, std::vector<Item>& record) {
  over_ = why;
  asker.stop_sweep();
  note("sweep stopped: " + why, now, record);
}

bool LiveSweep::ask_unit(const Endpoint& unit, TimePoint now, Asker& asker, std::vector<Item>& record) {
  std::optional<Task> task;
  auto trouble = sweep_.trouble(unit);
  if (!trouble && !asker.sweep_asks(unit)) {
    task = sweep_.take(unit, now);
    trouble = sweep_.trouble(unit);
  }
  if (trouble) stop_unit(unit, *trouble, now, asker, record);
  if (!task) return false;
  asker.ask_for_sweep(std::move(*task));
  return true;
}

void LiveSweep::stop_unit(const Endpoint& unit, const std::string& why, TimePoint now, Asker& asker,
                          std::vector<Item>& record) {
  stopped_[unit] = why;
  asker.leave_alone(unit);
  sweep_.leave(unit);
  conditions_.leave(unit);
  note("sweep of " + ecu_text(unit.id, unit.address) + " stopped: " + why, now, record);
  if (stopped_.size() < sweep_.units().size()) return;
  over_ = "no unit is left to be asked";
  asker.stop_sweep();
}

std::optional<TimePoint> LiveSweep::deadline(const Asker& asker) const {
  if (over_) return std::nullopt;
  if (!begun_) return told_why_not_ ? std::nullopt : std::optional(start_ + kSayWhyNot);
  if (waits_since_) return *waits_since_ + kLongestPause;
  std::optional<TimePoint> first;
  for (const Endpoint& unit : sweep_.units()) {
    if (stopped_.contains(unit) || asker.sweep_asks(unit)) continue;
    if (const auto due = sweep_.due(unit); due && (!first || *due < *first)) first = due;
  }
  return first;
}

std::string LiveSweep::status() const {
  if (over_) {
    std::string text = "stopped: " + *over_;
    for (const auto& [unit, why] : stopped_) text += "; " + ecu_text(unit.id, unit.address) + ": " + why;
    return text;
  }
  if (!waits_for_.empty()) return (begun_ ? "waits: " : "not begun yet: ") + waits_for_;
  if (!begun_) return "not begun yet";
  const SweepProgress now = sweep_.progress();
  std::string text = "pass " + std::to_string(now.pass) + ", " + std::to_string(now.asked) + " of " +
                     std::to_string(now.of) + " asked, " + std::to_string(now.answering) + " answer, " +
                     std::to_string(now.promising) + " promising";
  for (const auto& [unit, why] : stopped_) text += "; " + ecu_text(unit.id, unit.address) + " stopped";
  return text;
}

}  // namespace sumplog
