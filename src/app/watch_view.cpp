#include "app/watch_view.h"

#include <algorithm>
#include <ctime>

#include "core/drawing/html_writer.h"
#include "core/drawing/shown_degrees.h"
#include "core/item/json_line.h"
#include "core/journal/event_reader.h"
#include "core/journal/wrapped_text.h"

namespace sumplog {
namespace {

// The status is written once a second: so what is lost is said within three.
constexpr double kFresh_s = 2;

/// "14:03:21  " where this machine stands.
std::string time_head(TimePoint at) {
  const std::time_t seconds = micros(at) / 1'000'000;
  std::tm local{};
  if (localtime_r(&seconds, &local) == nullptr) return {};
  const auto two = [](int n) { return (n < 10 ? "0" : "") + std::to_string(n); };
  return two(local.tm_hour) + ":" + two(local.tm_min) + ":" + two(local.tm_sec) + "  ";
}

TimePoint time_of(const Event& event) {
  return std::visit([](const auto& e) { return e.at; }, event);
}

}  // namespace

std::vector<std::string> WatchView::on_line(std::string_view text) {
  const auto event = event_of(text);
  if (!event) return {};
  latest_s_ = std::max(latest_s_, in_seconds(time_of(*event).time_since_epoch()));
  if (const auto* const thermal = std::get_if<ThermalEvent>(&*event)) on_thermal(*thermal);
  if (const auto* const reading = std::get_if<ReadingEvent>(&*event))
    if (reading->quality == Quality::by_hand && reading->value) hand_ = *reading;
  if (const auto* const check = std::get_if<CheckEvent>(&*event)) {
    check_ = std::string(text_of(check->state));
    check_why_ =
        check->why.empty() ? "" : without_controls(degrees_of_phrase(check->why.front(), fahrenheit_));
  }
  std::vector<std::string> rows;
  for (const std::string& said : words_.of(*event)) add_wrapped(rows, time_head(time_of(*event)), said);
  // What has no blank where it could be broken is cut.
  for (std::string& row : rows)
    if (columns_of(row) > kColumns) row = shortened(row, kColumns - 1);
  return rows;
}

void WatchView::on_thermal(const ThermalEvent& e) {
  thermal_ = e;
  ahead_.clear();
  if (e.window == WindowState::inside && e.stay_s && (*e.stay_s)[1])
    ahead_ = "ends in " + ahead_words(*(*e.stay_s)[1]);
  if (e.window != WindowState::inside && e.enter_in_s && (*e.enter_in_s)[1])
    ahead_ = "starts in " + ahead_words(*(*e.enter_in_s)[1]);
}

double WatchView::age_s(double now_s) const {
  return now_s - in_seconds(thermal_->at.time_since_epoch());
}

bool WatchView::live(double now_s) const {
  return thermal_ && thermal_->temp_c && age_s(now_s) <= kFresh_s && (!thermal_->by_hand || hand_);
}

std::string WatchView::check(double now_s) const {
  return live(now_s) ? check_ : std::string();
}

std::string WatchView::status(double now_s) const {
  if (!live(now_s)) {
    const bool told = thermal_ && age_s(now_s) <= kFresh_s && !thermal_->why.empty();
    return shortened("no live reading" + (told ? ": " + without_controls(thermal_->why) : std::string()),
                     kColumns - 1);
  }
  // What a person read a minute ago is shown as he read it, with its own age, and never as the unit's.
  const bool by_hand = thermal_->by_hand;
  const double shown_c = by_hand ? *hand_->value : *thermal_->temp_c;
  const TimePoint since = by_hand ? hand_->at : thermal_->at;
  const std::string head = degrees_text(Celsius{shown_c}, fahrenheit_, 1) + (by_hand ? " by hand, " : " ") +
                           std::string(text_of(thermal_->window)) + "; check " + check_;
  std::string tail;
  if (!ahead_.empty()) tail += "; " + ahead_;
  if (thermal_->rate_c_per_min)
    tail += "; " + degrees_text(CelsiusPerMinute{*thermal_->rate_c_per_min}, fahrenheit_, 1);
  tail += "; " + fixed(std::max(0.0, now_s - in_seconds(since.time_since_epoch())), 1) + " s old";
  // The reason gets what room is left: its event line has all of it.
  constexpr std::size_t kLeast = 8;
  const std::size_t used = columns_of(head) + columns_of(tail) + 4;
  std::string reason;
  if (!check_why_.empty() && used + kLeast < kColumns) reason = ": " + shortened(check_why_, kColumns - used);
  return shortened(head + reason + tail, kColumns - 1);
}

}  // namespace sumplog
