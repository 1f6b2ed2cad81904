#include "app/journal_printer.h"

#include <ostream>

#include "core/item/json_line.h"
#include "core/journal/wrapped_text.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;

constexpr Duration kThermalEvery = 950ms;  // one line a second, though readings do not come on the dot

std::string clock(Duration since) {
  const auto s = std::chrono::duration_cast<std::chrono::seconds>(since).count();
  const auto two = [](std::int64_t n) { return (n < 10 ? "0" : "") + std::to_string(n); };
  return two(s / 3600) + ":" + two(s / 60 % 60) + ":" + two(s % 60);
}

}  // namespace

JournalPrinter::JournalPrinter(std::ostream& out, bool json) : out_(out), json_(json) {}

bool JournalPrinter::failed() const {
  return !out_;
}

void JournalPrinter::print(const std::vector<Event>& events) {
  for (const Event& event : events) print(event, json_ ? journal_line(event) : std::string());
}

void JournalPrinter::print(const Event& event, const std::string& line) {
  if (json_)
    out_ << line << '\n';
  else
    print_text(event);
}

void JournalPrinter::flush() {
  out_.flush();
}

void JournalPrinter::line(TimePoint at, const std::string& text) {
  std::vector<std::string> rows;
  add_wrapped(rows, clock(at - *start_) + "  ", text);
  for (const std::string& row : rows) out_ << row << '\n';
}

void JournalPrinter::print_text(const Event& event) {
  std::visit(
      [&](const auto& e) {
        if (!start_) start_ = e.at;
        for (const std::string& text : words_.of(event)) line(e.at, text);
      },
      event);
  if (const auto* const reading = std::get_if<ReadingEvent>(&event)) on_reading(*reading);
  if (const auto* const thermal = std::get_if<ThermalEvent>(&event)) on_thermal(*thermal);
}

void JournalPrinter::on_reading(const ReadingEvent& e) {
  if (e.signal == "fluid_temperature") (e.quality == Quality::by_hand ? hand_c_ : reading_c_) = e.value;
}

void JournalPrinter::on_thermal(const ThermalEvent& e) {
  if (!e.temp_c || (thermal_at_ && e.at - *thermal_at_ < kThermalEvery)) return;
  thermal_at_ = e.at;
  std::string text = "fluid ";
  const std::optional<double>& shown_c = e.by_hand ? hand_c_ : reading_c_;
  text += shown_c ? fixed(*shown_c, 0) : "?";
  text += e.by_hand ? " °C by hand  " : " °C  ";
  text += text_of(e.window);
  if (e.rate_c_per_min) text += "  " + fixed(*e.rate_c_per_min, 1) + " °C/min";
  if (e.window == WindowState::below && e.enter_in_s && (*e.enter_in_s)[1]) {
    text += "  starts in about " + ahead_words(*(*e.enter_in_s)[1]);
    if (e.stay_s && (*e.stay_s)[1]) text += ", lasts " + ahead_words(*(*e.stay_s)[1]);
  }
  if (e.window == WindowState::inside && e.stay_s && (*e.stay_s)[1])
    text += "  ends in about " + ahead_words(*(*e.stay_s)[1]);
  for (const std::string& flag : e.flags) text += "  " + flag;
  line(e.at, text);
}

}  // namespace sumplog
