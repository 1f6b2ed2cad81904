// The record as a sheet for a terminal.
#include <chrono>
#include <cmath>

#include "core/codes/code_sheet.h"
#include "core/fluid/sums_text.h"
#include "core/item/json_line.h"
#include "core/job/verdict_words.h"
#include "core/journal/wrapped_text.h"
#include "core/record/job_record.h"

namespace sumplog {
namespace {

constexpr std::size_t kLabel = 20;  // columns

std::string utc(TimePoint at) {
  using namespace std::chrono;
  const auto two = [](std::int64_t n) { return (n < 10 ? "0" : "") + std::to_string(n); };
  const sys_days day = floor<days>(sys_time<Duration>(at.time_since_epoch()));
  const year_month_day date(day);
  const auto in_day = floor<minutes>(at.time_since_epoch() - day.time_since_epoch());
  return std::to_string(static_cast<int>(date.year())) + "-" + two(static_cast<unsigned>(date.month())) +
         "-" + two(static_cast<unsigned>(date.day())) + " " + two(in_day.count() / 60) + ":" +
         two(in_day.count() % 60) + " UTC";
}

class Sheet {
 public:
  Sheet(const JobRecord& record, std::string (*local)(TimePoint))
      : record_(record), time_(local != nullptr ? local : utc) {}

  std::vector<std::string> take() {
    head();
    vehicle();
    stages();
    codes("Fault codes before the work", record_.codes_before);
    codes("Fault codes after the work", record_.codes_after);
    if (record_.compared) {
      section(std::string("After against before") + (record_.compared->complete ? "" : ", not complete"));
      for (const std::string& one : text_of(*record_.compared)) add_wrapped(lines_, "  ", one);
    }
    fluid();
    level_check();
    things();
    recording();
    open_items();
    cautions();
    return std::move(lines_);
  }

 private:
  void section(const std::string& title) {
    if (!lines_.empty()) lines_.emplace_back();
    lines_.push_back(without_controls(title));
  }
  void row(const std::string& label, const std::string& text) {
    if (text.empty()) return;
    const std::size_t width = columns_of(label);
    add_wrapped(lines_, "  " + label + std::string(width < kLabel ? kLabel - width : 1, ' '), text);
  }
  void paragraph(const std::string& text) { add_wrapped(lines_, "  ", text); }

  void head() {
    section("Job " + record_.job);
    if (record_.redacted) paragraph("A copy without plate, VIN and customer.");
    if (record_.began) row("began", time_(*record_.began));
    if (record_.ended)
      row("closed", time_(*record_.ended));
    else if (record_.last)
      row("open", "last written to " + time_(*record_.last));
    row("program", record_.program);
    row("decoders", joined(record_.decoders, ", "));
    row("service file", record_.service);
  }

  void vehicle() {
    section("Vehicle");
    row("plate", record_.plate);
    row("VIN typed", record_.vin_typed);
    for (const auto& [ecu, vin] : record_.vins_read) {
      row("VIN read", vin);
      row("", "by unit " + ecu);
    }
    if (record_.vin_mismatch) paragraph("!! These VINs are not the same: is this the car of this job?");
    const auto km = [](const std::optional<double>& value) {
      return value ? fixed(*value, 0) + " km" : std::string();
    };
    row("odometer typed", km(record_.odometer_typed_km));
    row("odometer read", km(record_.odometer_read_km));
    row("customer", record_.customer);
    row("complaint", record_.complaint);
    row("technician", record_.technician);
    row("transmission", record_.transmission);
    row("unit", record_.unit);
    row("fluid", record_.fluid);
    row("batch", record_.batch);
  }

  void stages() {
    section("Stages");
    std::vector<std::string> not_done;
    for (const StageRecord& stage : record_.stages) {
      if (stage.state() == StageState::not_done) not_done.push_back(stage.stage);
      for (const StageVisit& visit : stage.visits) row(stage.stage, visit_text(visit));
      if (stage.skipped)
        row(stage.stage, "left out" + (stage.skipped_why.empty() ? "" : ": " + stage.skipped_why));
    }
    row("not done", joined(not_done, ", "));
  }
  std::string visit_text(const StageVisit& visit) const {
    std::string text = visit.begun ? time_(*visit.begun) : "?";
    text += visit.ended ? " to " + time_(*visit.ended) : ", open";
    return text + (visit.late ? " (time by hand)" : "");
  }

  void codes(const std::string& title, const std::optional<ScanRecord>& scan) {
    if (!scan) {
      section(title + ": not read");
      return;
    }
    section(title);
    paragraph(scan->complete ? "The scan is complete for the units that were asked."
                             : "The scan is not complete: " + joined(scan->why, ", "));
    for (const ScanRecord::Code& code : scan->codes) {
      row(code.ecu + " " + code.code, joined(code.status, ", "));
      row("", code.text);
      row("", code.code_class);
    }
    if (scan->codes.empty()) paragraph("No codes told.");
    row("silent", joined(scan->silent, ", "));
    row("not asked", joined(scan->not_asked, ", "));
  }

  void fluid() {
    if (!record_.balance && !record_.exchange) return;
    section("Fluid");
    if (record_.balance) {
      for (const BalanceEvent::Part& part : record_.balance->parts)
        row(part.part, "out " + fixed(part.out_l, 2) + " L, in " + fixed(part.in_l, 2) + " L");
      paragraph(balance_text(*record_.balance));
    }
    if (record_.exchange) paragraph(exchange_text(*record_.exchange));
  }

  void level_check() {
    section("Level check");
    if (record_.verdicts.empty()) paragraph("No plug was put back after a level check.");
    for (const VerdictEvent& one : record_.verdicts) {
      row("plug out to plug in", time_(one.out) + " to " + time_(one.in));
      row("conditions", one.kept ? "kept" : "not kept: " + joined(one.why, "; "));
      row("thermometer", std::string(text_of(one.thermometer)));
      row("temperature", temperatures_words(one, [](double c) { return fixed(c, 1) + " °C"; }));
      row("by hand", joined(one.by_hand, "; "));
      row("level seen", one.level_seen ? seen_words(*one.level_seen) : "not entered");
      row("window", one.origin);
    }
    if (!record_.verdicts.empty())
      paragraph("Conditions that were kept say nothing of the level itself: that is what a person saw.");
  }

  void things() {
    if (!record_.parts.empty()) section("Parts");
    for (const PartRecord& part : record_.parts)
      row(part.part, fixed(part.count, part.count == std::floor(part.count) ? 0 : 1) + " x " + part.number);
    if (!record_.notes.empty()) section("Notes");
    for (const NoteRecord& note : record_.notes)
      row(time_(note.at), note.text + (note.by.empty() ? "" : " (" + note.by + ")"));
    if (!record_.photos.empty()) section("Photos");
    for (const PhotoRecord& photo : record_.photos)
      row(photo.of.empty() ? "photo" : photo.of, photo.file + "  " + photo.sha256);
  }

  void recording() {
    section("Recording");
    if (record_.gaps == 0) paragraph("No gap in the readings of the fluid.");
    if (record_.gaps > 0)
      paragraph((record_.gaps == 1 ? "1 gap" : std::to_string(record_.gaps) + " gaps") +
                " in the readings of the fluid, the longest of " + fixed(in_seconds(record_.longest_gap), 0) +
                " s.");
    if (record_.losses > 0)
      paragraph((record_.losses == 1 ? "1 loss" : std::to_string(record_.losses) + " losses") +
                " on the bus; the journal names them.");
    if (record_.resumed > 0)
      paragraph("The program was stopped and went on " + std::to_string(record_.resumed) + " times.");
  }

  void open_items() {
    section("Left to do");
    if (record_.open_items.empty()) paragraph("Nothing.");
    for (const OpenItem& one : record_.open_items) {
      std::string text = one.text;
      if (!one.by.empty()) text += "; " + one.by;
      if (!one.answer.empty()) text += "; " + one.answer;
      if (!one.missing.empty()) text += " (" + one.missing + ")";
      row("[" + std::string(text_of(one.state)) + "]", one.item + ": " + text);
    }
    paragraph(record_.may_close ? "The job may be closed."
                                : "The job may not be closed before each is done or signed over.");
  }

  void cautions() {
    section("Cautions");
    paragraph(
        "The vehicle maker's procedure comes first. Hot fluid burns; a running engine catches sleeves and "
        "hair; nobody is "
        "under a car while its selector is moved.");
  }

  const JobRecord& record_;
  std::string (*time_)(TimePoint);
  std::vector<std::string> lines_;
};

}  // namespace

std::vector<std::string> text(const JobRecord& record, std::string (*local)(TimePoint)) {
  return Sheet(record, local).take();
}

}  // namespace sumplog
