// What the technician, or who asks him a year later, wants to know beside the customer's sheet.
#include <algorithm>

#include "core/codes/code_sheet.h"
#include "core/drawing/html_writer.h"
#include "core/drawing/limit_table.h"
#include "core/drawing/report_page.h"
#include "core/drawing/shown_degrees.h"
#include "core/fluid/sums_text.h"
#include "core/job/verdict_words.h"
#include "core/journal/wrapped_text.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;

// Of the state of the check: what led to plug out, and what followed plug in.
constexpr Duration kBeforePlugOut = 10min;
constexpr Duration kAfterPlugIn = 1min;
constexpr std::ptrdiff_t kMostCheckRows = 16;  // the journal has all of them

constexpr std::string_view kCautions[] = {
    "The vehicle maker's procedure comes first, then local codes and licensed practice. This report replaces "
    "none of them.",
    "Hot fluid burns: gloves and goggles. On a hot exhaust it catches fire.",
    "A running engine catches sleeves and hair; its exhaust is led away.",
    "A raised car is level and safe on its pads before anybody goes under it. Nobody is under it while the "
    "selector is moved.",
};

class Pages {
 public:
  Pages(HtmlWriter& html, const ReportFacts& facts) : html_(html), facts_(facts), record_(facts.record) {}

  void write() {
    html_.open("section", "technician");
    html_.element("h1", kTechnicianHeading);
    head();
    courses();
    level_checks();
    check_states();
    by_hand();
    codes();
    fluid();
    work();
    open_items();
    origins();
    recording();
    photos();
    html_.element("h2", "Cautions");
    html_.list(std::vector<std::string>(std::begin(kCautions), std::end(kCautions)));
    if (facts_.configuration.service && facts_.configuration.service->cautions)
      html_.list(facts_.configuration.service->cautions->value);
    html_.close();
  }

 private:
  [[nodiscard]] std::string when(TimePoint at) const {
    return facts_.local != nullptr ? facts_.local(at) : seconds_text(at);
  }
  /// Minutes and seconds since the start of the job, as under the curve.
  [[nodiscard]] std::string since_start(TimePoint at) const {
    if (!record_.began) return "";
    const auto s = std::chrono::floor<std::chrono::seconds>(at - *record_.began).count();
    const std::string rest = std::to_string(s % 60);
    return std::to_string(s / 60) + (rest.size() < 2 ? ":0" : ":") + rest + " min";
  }
  [[nodiscard]] std::string degrees(double c, int decimals = 1) const {
    return degrees_text(Celsius{c}, facts_.fahrenheit, decimals);
  }
  /// What the program says of itself, in the unit of the report.
  [[nodiscard]] std::string phrase(const std::string& text) const {
    return degrees_of_phrase(text, facts_.fahrenheit);
  }
  [[nodiscard]] std::vector<std::string> phrases(std::vector<std::string> all) const {
    for (std::string& one : all) one = phrase(one);
    return all;
  }
  void begin_table() {
    html_.open("table");
    html_.open("tbody");
  }
  void end_table() {
    html_.close();
    html_.close();
  }
  /// What a bounded list has not kept is said.
  template <class T>
  void left_out(const JobNotes::Newest<T>& list, const char* what) {
    if (list.left_out > 0)
      html_.element(
          "p", std::to_string(list.left_out) + " older " + what + " are left out; the job file has them.");
  }

  void head() {
    begin_table();
    html_.named_row("Job", record_.job);
    html_.named_row("Job file", facts_.file);
    html_.named_row("State of the file", facts_.seals_text);
    html_.named_row("Fingerprint", facts_.fingerprint);
    html_.named_row("Check it with", facts_.fingerprint.empty() ? ""
                                                                : "sumplog verify " + facts_.file +
                                                                      " --fingerprint " + facts_.fingerprint);
    html_.named_row("Recorded by", record_.program);
    html_.named_row("Report by", facts_.program);
    std::vector<std::string> vins;
    for (const auto& [ecu, vin] : record_.vins_read)
      vins.push_back(std::string(vin).append(" (unit ").append(ecu).append(")"));
    html_.named_row("VIN typed", record_.vin_typed);
    html_.named_row("VIN read", joined(vins, ", "));
    if (record_.odometer_read_km)
      html_.named_row("Odometer read", fixed(*record_.odometer_read_km, 0) + " km");
    html_.named_row("Transmission", record_.transmission);
    end_table();
    if (record_.vin_mismatch)
      html_.element("p", "These VINs are not the same: is this the car of this job?", "warning");
    html_.list(facts_.configuration.problems);
  }

  void courses() {
    html_.element("h2", "Course of the fluid temperature");
    if (facts_.whole_course.empty()) {
      html_.element("p", "There is no reading of the fluid temperature.");
      return;
    }
    html_.raw(facts_.whole_course);
    for (const std::string& one : facts_.level_courses) {
      html_.element("h3", "Around a level check");
      html_.raw(one);
    }
  }

  void level_checks() {
    html_.element("h2", "Level check");
    if (record_.verdicts.empty()) html_.element("p", "No plug was put back after a level check.");
    for (const VerdictEvent& one : record_.verdicts) {
      const bool kept = one.kept && facts_.holds;
      html_.open("div", kept ? "answer" : "answer no");
      html_.element("strong", kept       ? "Conditions kept"
                              : one.kept ? "Conditions: cannot be told, the record was changed"
                                         : "Conditions not kept");
      html_.list(phrases(one.why));
      html_.close();
      begin_table();
      html_.named_row("Plug out", when(one.out) + ", " + since_start(one.out));
      html_.named_row("Plug in", when(one.in) + ", " + since_start(one.in));
      html_.named_row("Thermometer", text_of(one.thermometer));
      html_.named_row("Temperature", temperatures_words(one, [this](double c) { return degrees(c); }));
      if (one.rate_c_per_min)
        html_.named_row("Rate at plug in",
                        degrees_text(CelsiusPerMinute{*one.rate_c_per_min}, facts_.fahrenheit, 2));
      if (one.engine_rpm) html_.named_row("Engine, mean", fixed(*one.engine_rpm, 0) + " rpm");
      html_.named_row("Inside the window", fixed(one.inside_for_s, 0) + " s");
      html_.named_row("Rests on a person's word", joined(one.by_hand, "; "));
      html_.named_row("Level seen", one.level_seen ? seen_words(*one.level_seen) : "not entered");
      html_.named_row("Window from", one.origin);
      end_table();
    }
    if (!record_.verdicts.empty())
      html_.element("p",
                    "Conditions that were kept say nothing of the level itself: that is what a person saw.");
    if (record_.level_sums) {
      html_.element("h3", "Estimate of the level");
      html_.open("p", "answer no");
      html_.text(phrase(level_text(*record_.level_sums)) + ". ");
      html_.element("strong", "Repeat the check.");
      html_.close();
      html_.element("p", "It says what the temperature does to the level, not what ran out.");
    }
  }

  void check_states() {
    if (record_.verdicts.empty()) return;
    const VerdictEvent& last = record_.verdicts.back();
    std::vector<std::vector<std::string>> rows;
    for (const CheckEvent& check : facts_.notes.checks().items)
      if (check.at >= last.out - kBeforePlugOut && check.at <= last.in + kAfterPlugIn)
        rows.push_back({when(check.at), since_start(check.at), std::string(text_of(check.state)),
                        phrase(joined(check.why, "; "))});
    if (std::ssize(rows) > kMostCheckRows) rows.erase(rows.begin(), rows.end() - kMostCheckRows);
    if (!rows.empty()) {
      html_.element("h3", "Could the check start? The newest changes before plug out, and after");
      html_.table({"time", "since start", "state", "reasons"}, rows);
    }
    rows.clear();
    for (const HoldEvent& hold : facts_.notes.holds().items)
      rows.push_back({when(hold.at), hold.position, hold.held_s ? fixed(*hold.held_s, 1) + " s" : "",
                      fixed(hold.wanted_s, 0) + " s", hold.enough ? "long enough" : "too short",
                      std::string(text_of(hold.quality))});
    if (!rows.empty()) {
      html_.element("h3", "Selector cycle");
      html_.table({"time", "position", "held", "asked for", "", ""}, rows);
    }
    left_out(facts_.notes.holds(), "holds");
  }

  void by_hand() {
    std::vector<std::vector<std::string>> rows;
    for (const JobNotes::HandReading& one : facts_.notes.hand_readings().items)
      rows.push_back({when(one.at), since_start(one.at), degrees(one.value_c), one.place});
    html_.element("h2", "Read and said by hand");
    if (rows.empty())
      html_.element("p", "No reading of a second thermometer.");
    else
      html_.table({"time", "since start", "second thermometer", "where"}, rows);
    left_out(facts_.notes.hand_readings(), "readings by hand");
    rows.clear();
    for (const JobNotes::Tick& one : facts_.notes.ticks().items)
      rows.push_back({when(one.at), one.what, one.by.empty() ? "" : "by " + one.by});
    if (!rows.empty()) html_.table({"time", "said", ""}, rows);
    left_out(facts_.notes.ticks(), "of these");
  }

  void codes() {
    scan("Fault codes before the work", record_.codes_before);
    scan("Fault codes after the work", record_.codes_after);
    if (!record_.compared) return;
    html_.element("h3",
                  std::string("After against before") + (record_.compared->complete ? "" : ", not complete"));
    html_.list(text_of(*record_.compared));
  }
  void scan(const char* title, const std::optional<ScanRecord>& scan) {
    html_.element("h2", title);
    if (!scan) {
      html_.element("p", "Not read.");
      return;
    }
    std::vector<std::vector<std::string>> rows;
    for (const ScanRecord::Code& code : scan->codes)
      rows.push_back({code.ecu, code.code, joined(code.status, ", "), code.text, code.code_class});
    if (rows.empty())
      html_.element("p", "No codes told.");
    else
      html_.table({"unit", "code", "status", "about", "advice"}, rows);
    html_.element("p", scan->complete ? "The scan is complete for the units that were asked."
                                      : "The scan is not complete: " + joined(scan->why, ", "));
    begin_table();
    if (scan->ended) html_.named_row("Ended", when(*scan->ended));
    html_.named_row("Answered", scan->answered.empty() ? "nobody" : joined(scan->answered, ", "));
    html_.named_row("Silent", joined(scan->silent, ", "));
    html_.named_row("Not asked", joined(scan->not_asked, "; "));
    end_table();
  }

  void fluid() {
    if (!record_.balance && !record_.exchange) return;
    html_.element("h2", "Fluid: balance and exchange");
    if (record_.balance) {
      std::vector<std::vector<std::string>> rows;
      for (const BalanceEvent::Part& part : record_.balance->parts)
        rows.push_back({part.part, fixed(part.out_l, 3) + " L", fixed(part.in_l, 3) + " L"});
      html_.table({"part", "out", "in"}, rows);
      html_.element("p", phrase(balance_text(*record_.balance)));
    }
    if (!record_.exchange) return;
    html_.element("p", phrase(exchange_text(*record_.exchange)));
    std::vector<std::vector<std::string>> rows;
    for (const ExchangeEvent::Step& step : record_.exchange->steps)
      rows.push_back(
          {fixed(step.through_l, 2) + " L", percent_text(step.new_mixed), percent_text(step.new_ideal)});
    html_.table({"through", "new, well mixed", "new, ideally displaced"}, rows);
  }

  void work() {
    html_.element("h2", "Stages, parts, notes");
    std::vector<std::vector<std::string>> rows;
    std::vector<std::string> not_done;
    for (const StageRecord& stage : record_.stages) {
      if (stage.state() == StageState::not_done) not_done.push_back(stage.stage);
      for (const StageVisit& visit : stage.visits)
        rows.push_back({stage.stage, visit.begun ? when(*visit.begun) : "?",
                        visit.ended ? when(*visit.ended) : "open", visit.late ? "time by hand" : ""});
      if (stage.skipped) rows.push_back({stage.stage, "left out", "", stage.skipped_why});
    }
    if (!rows.empty()) html_.table({"stage", "begun", "ended", ""}, rows);
    if (!not_done.empty()) html_.element("p", "Not done: " + joined(not_done, ", "));
    rows.clear();
    for (const PartRecord& part : record_.parts)
      rows.push_back({part.part, part.number, fixed(part.count, 1)});
    if (!rows.empty()) html_.table({"part", "number", "count"}, rows);
    rows.clear();
    for (const NoteRecord& note : record_.notes) rows.push_back({when(note.at), note.text, note.by});
    if (!rows.empty()) html_.table({"time", "note", "by"}, rows);
  }

  void open_items() {
    html_.element("h2", "Left to do");
    std::vector<std::vector<std::string>> rows;
    for (const OpenItem& one : record_.open_items) {
      std::string text = one.automatic ? phrase(one.text) : one.text;
      if (!one.by.empty()) text += "; " + one.by;
      if (!one.answer.empty()) text += "; " + one.answer;
      if (!one.missing.empty()) text += " (" + one.missing + ")";
      rows.push_back({std::string(text_of(one.state)), one.item, text});
    }
    if (rows.empty())
      html_.element("p", "Nothing.");
    else
      html_.table({"state", "item", "what"}, rows);
  }

  void origins() {
    html_.element("h2", "Where each limit comes from");
    const auto cells = [](const std::vector<LimitRow>& table) {
      std::vector<std::vector<std::string>> rows;
      rows.reserve(table.size());
      for (const LimitRow& row : table) rows.push_back({row.name, row.value, row.origin, row.place});
      return rows;
    };
    html_.table({"limit", "value", "origin", "stands in"},
                cells(limit_table(facts_.configuration, facts_.fahrenheit)));
    html_.element("h3", "Where the readings come from");
    const auto decoders = cells(decoder_table(facts_.configuration));
    if (decoders.empty())
      html_.element("p", "No decoder was in use.");
    else
      html_.table({"decoder", "reads", "origin", "stands in"}, decoders);
  }

  void recording() {
    html_.element("h2", "Gaps and losses");
    std::vector<std::vector<std::string>> rows;
    for (const GapEvent& gap : facts_.notes.gaps().items)
      rows.push_back({when(gap.from), since_start(gap.from), seconds_words(gap.to - gap.from), gap.why});
    if (rows.empty())
      html_.element("p", "No gap in the readings of the fluid.");
    else
      html_.table({"from", "since start", "for", "why"}, rows);
    left_out(facts_.notes.gaps(), "gaps");
    rows.clear();
    for (const JobNotes::Loss& loss : facts_.notes.losses())
      rows.push_back({loss.ecu, loss.why, std::to_string(loss.times) + " times",
                      std::to_string(loss.frames) + " frames",
                      since_start(loss.first) + " to " + since_start(loss.last)});
    if (!rows.empty()) html_.table({"unit", "lost", "", "", "since start"}, rows);
    for (const ClockEvent& step : facts_.notes.clock_steps().items)
      html_.element("p", when(step.at) + ": the computer's clock was set by " +
                             fixed(in_seconds(step.step), 1) + " s; the times of this job go on.");
    if (record_.resumed > 0)
      html_.element("p",
                    "The program was stopped and went on " + std::to_string(record_.resumed) + " times.");
  }

  void photos() {
    if (facts_.photos.empty()) return;
    html_.element("h2", "Photos");
    html_.open("div", "photos");
    for (const ReportPhoto& one : facts_.photos) {
      html_.open("figure");
      if (one.data_uri.empty())
        html_.element("p", one.trouble, "none");
      else
        html_.raw("<img alt=\"\" src=\"" + one.data_uri + "\">");
      html_.element("figcaption", (one.photo.of.empty() ? "photo" : one.photo.of) + ", " +
                                      when(one.photo.at) + ", " + one.photo.file + ", SHA-256 " +
                                      one.photo.sha256);
      html_.close();
    }
    html_.close();
  }

  HtmlWriter& html_;
  const ReportFacts& facts_;
  const JobRecord& record_;
};

}  // namespace

void write_technician_pages(HtmlWriter& html, const ReportFacts& facts) {
  Pages(html, facts).write();
}

}  // namespace sumplog
