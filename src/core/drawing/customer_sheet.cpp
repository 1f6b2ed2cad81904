// One page that a customer understands. Every list and every text has a greatest length, so that it stays one page; what is
// left out of it stands on the technician's pages, and the sheet says so.
#include <algorithm>
#include <cmath>

#include "core/drawing/html_writer.h"
#include "core/drawing/report_page.h"
#include "core/drawing/shown_degrees.h"
#include "core/fluid/sums_text.h"
#include "core/journal/wrapped_text.h"

namespace sumplog {
namespace {

// Greatest lengths, of lists in lines and of texts in characters.
constexpr std::size_t kMostCodes = 5;
constexpr std::size_t kMostReasons = 4;
constexpr std::size_t kMostOpen = 5;
constexpr std::size_t kMostPhotos = 4;
constexpr std::size_t kMostParts = 4;
constexpr std::size_t kName = 40;
constexpr std::size_t kPart = 24;
constexpr std::size_t kCode = 36;
constexpr std::size_t kHalfLine = 64;  // of a column
constexpr std::size_t kLine = 112;
constexpr std::size_t kTwoLines = 210;

/// What was done, as one says it to a customer.
std::string plain_stage(std::string_view stage) {
  constexpr std::pair<std::string_view, std::string_view> kWords[] = {
      {"reception", "Vehicle taken in"},
      {"road test before", "Road test before the work"},
      {"codes before", "Fault codes read before"},
      {"sample", "Sample of the fluid taken"},
      {"line opened", "Cooler line opened"},
      {"exchange", "Fluid exchanged"},
      {"drain and parts", "Fluid drained, parts"},
      {"refill", "New fluid filled in"},
      {"cool down", "Left to cool down"},
      {"selector cycle", "All gears selected once"},
      {"level check", "Fluid level checked"},
      {"closing", "Closed up"},
      {"codes after", "Fault codes read after"},
      {"road test after", "Road test after the work"},
      {"hand-over", "Handed over"},
  };
  for (const auto& [name, words] : kWords)
    if (name == stage) return std::string(words);
  return std::string(stage);
}

/// "95 %", which no end of a line tears.
std::string kept_together(double share) {
  std::string text = percent_text(share);
  return text.replace(text.find(' '), 1, "\u00a0");
}

std::string more(std::size_t left_out) {
  return "and " + std::to_string(left_out) + " more: see the technician's pages";
}

class Sheet {
 public:
  Sheet(HtmlWriter& html, const ReportFacts& facts) : html_(html), facts_(facts), record_(facts.record) {}

  void write() {
    html_.open("section", "sheet");
    head();
    vehicle();
    done();
    html_.open("div", "pair");
    html_.open("div");
    fluid();
    html_.close();
    html_.open("div");
    level();
    html_.close();
    html_.close();
    codes();
    open_items();
    photos();
    file();
    html_.close();
  }

 private:
  [[nodiscard]] std::string when(TimePoint at) const {
    return facts_.local != nullptr ? facts_.local(at) : seconds_text(at);
  }
  /// The day only where it is another one than that of the time that was told before.
  [[nodiscard]] std::string clock(TimePoint at, TimePoint before) const {
    const std::string text = when(at);
    const std::size_t day = text.find(' ');
    const bool same = day != std::string::npos && when(before).starts_with(text.substr(0, day));
    return same ? text.substr(day + 1) : text;
  }
  [[nodiscard]] TimePoint began() const { return record_.began.value_or(TimePoint{}); }
  [[nodiscard]] std::string degrees(double c) const { return degrees_text(Celsius{c}, facts_.fahrenheit, 0); }
  void named(std::string_view name, const std::string& words, std::size_t most) {
    html_.named_row(name, shortened(words, most));
  }

  void head() {
    html_.element("h1", "Service of the transmission fluid");
    std::string lead;
    if (record_.began) lead = when(*record_.began);
    if (record_.ended) lead += " to " + clock(*record_.ended, began());
    if (!record_.ended && record_.last) lead += ", not finished; as of " + clock(*record_.last, began());
    html_.element("p", lead, "lead");
    if (!facts_.holds)
      html_.element(
          "p",
          "The record of this work was changed after it was written. What stands here cannot be relied on.",
          "warning");
    if (record_.redacted) html_.element("p", "Made from a copy without plate, VIN and customer.", "warning");
  }

  void vehicle() {
    html_.open("div", "pair");
    html_.open("table");
    html_.open("tbody");
    named("Number plate", record_.plate, kName);
    named("VIN", record_.vin(), kName);
    if (record_.odometer_typed_km)
      named("Odometer", fixed(*record_.odometer_typed_km, 0) + " km", kName);
    else if (record_.odometer_read_km)
      named("Odometer", fixed(*record_.odometer_read_km, 0) + " km, as the vehicle says", kName);
    named("Customer", record_.customer, kName);
    filled();
    html_.close();
    html_.close();
    html_.open("table");
    html_.open("tbody");
    named("Done by", record_.technician, kName);
    named("Transmission", record_.unit, kName);
    named("Fluid", record_.fluid + (record_.batch.empty() ? "" : ", batch " + record_.batch), kHalfLine);
    filled();
    html_.close();
    html_.close();
    html_.close();
    if (record_.vin_mismatch)
      html_.element("p", "The VIN that was written down and the one that the vehicle tells are not the same.",
                    "warning");
    if (!record_.complaint.empty())
      html_.element("p", "Reason for the visit: " + shortened(record_.complaint, kTwoLines));
  }
  /// A table needs a row; one that nobody filled in says so.
  void filled() {
    if (record_.plate.empty() && record_.vin().empty() && record_.technician.empty())
      html_.named_row("Vehicle", "not written down");
  }

  void done() {
    html_.element("h2", "What was done");
    std::vector<std::string> steps;
    TimePoint told = began();
    for (const StageRecord& stage : record_.stages) {
      const std::string name = plain_stage(stage.stage);
      if (!stage.visits.empty()) {
        const StageVisit& first = stage.visits.front();
        const StageVisit& last = stage.visits.back();
        std::string text = first.begun ? clock(*first.begun, told) : std::string("?");
        told = first.begun.value_or(told);
        if (last.ended) {
          const std::string end = clock(*last.ended, told);
          if (!first.begun || end != clock(*first.begun, *last.ended)) text += " to " + end;
          told = *last.ended;
        }
        text += "  " + name;
        if (stage.visits.size() > 1) text += " (" + std::to_string(stage.visits.size()) + " times)";
        if (!last.ended) text += ", not ended";
        steps.push_back(text);
      } else if (stage.skipped) {
        steps.push_back("left out: " + name +
                        (stage.skipped_why.empty() ? "" : " (" + shortened(stage.skipped_why, kName) + ")"));
      }
    }
    if (steps.empty()) html_.element("p", "No step of the work was entered.");
    html_.list(steps, "steps");
    std::vector<std::string> parts;
    for (const PartRecord& part : record_.parts) {
      if (parts.size() == kMostParts) break;
      const bool whole = part.count == std::floor(part.count);  // a job file may hold any number
      parts.push_back(fixed(part.count, whole ? 0 : 1) + " x " + shortened(part.part, kPart) +
                      (part.number.empty() ? "" : " " + shortened(part.number, kPart)));
    }
    if (record_.parts.size() > parts.size()) parts.push_back(more(record_.parts.size() - parts.size()));
    if (!parts.empty()) html_.element("p", "Parts: " + joined(parts, "; "));
  }

  void fluid() {
    html_.element("h2", "Fluid");
    if (!record_.balance) {
      html_.element("p", "No amount of fluid was entered.");
    } else {
      const BalanceEvent& sums = *record_.balance;
      std::vector<std::vector<std::string>> rows;
      for (const BalanceEvent::Part& part : sums.parts)
        rows.push_back({part.part, fixed(part.out_l, 2) + " L", fixed(part.in_l, 2) + " L"});
      rows.push_back({"together", fixed(sums.out_l, 2) + " L", fixed(sums.in_l, 2) + " L"});
      html_.table({"", "out", "in"}, rows);
      html_.element("p", "Litres as they are at " + degrees(sums.reference_c) + ".", "lead");
    }
    if (record_.exchange && !record_.exchange->steps.empty()) {
      const ExchangeEvent::Step& now = record_.exchange->steps.back();
      html_.element("p", "New fluid in the transmission, calculated: " + kept_together(now.new_mixed) +
                             " to " + kept_together(now.new_ideal) +
                             "; less where parts of it were not flushed.");
    }
  }

  void level() {
    html_.element("h2", "Level check");
    const VerdictEvent* const verdict = record_.verdict();
    if (verdict == nullptr) {
      html_.element("p", "No level check was carried to its end.");
      return;
    }
    const bool kept = verdict->kept && facts_.holds;
    html_.open("div", kept ? "answer" : "answer no");
    html_.element("strong", kept            ? "Conditions kept"
                            : verdict->kept ? "Conditions: cannot be told"
                                            : "Conditions not kept");
    if (verdict->kept && !kept) {
      html_.element("p", "The record says that they were kept, but it was changed after it was written.");
    } else if (kept) {
      html_.element("p", "What the procedure asks for while the plug is out was kept the whole time.");
    } else {
      std::vector<std::string> why;
      for (const std::string& one : verdict->why)
        if (why.size() < kMostReasons)
          why.push_back(shortened(degrees_of_phrase(one, facts_.fahrenheit), kLine));
      if (verdict->why.size() > why.size()) why.push_back(more(verdict->why.size() - why.size()));
      html_.list(why);
    }
    html_.close();
    html_.element("p", warmth(*verdict));
    html_.element("p", seen(*verdict));
    if (record_.verdicts.size() > 1)
      html_.element("p", "This is the last of " + std::to_string(record_.verdicts.size()) +
                             " checks, the one that counts.");
    html_.element(
        "p", "Conditions that were kept say nothing of the level itself: that is what a person saw.", "lead");
  }
  [[nodiscard]] std::string warmth(const VerdictEvent& verdict) const {
    std::string text =
        "Plug out from " + clock(verdict.out, began()) + " to " + clock(verdict.in, verdict.out) + ". ";
    std::vector<std::string> words;
    if (verdict.temp_out_c) words.push_back(degrees(*verdict.temp_out_c) + " when it came out");
    if (verdict.temp_in_c) words.push_back(degrees(*verdict.temp_in_c) + " when it was in again");
    if (words.empty())
      text += "How warm the fluid was then is not known.";
    else
      text += "The fluid had " + joined(words, ", ") +
              (verdict.thermometer == Quality::by_hand ? " (second thermometer, read by hand)."
                                                       : " (as the vehicle's control unit says).");
    if (facts_.configuration.window)
      text += " Asked for: " +
              degrees_text(facts_.configuration.window->low, facts_.configuration.window->high,
                           facts_.fahrenheit, 0) +
              (verdict.origin.empty() ? "; nobody confirmed where that comes from."
                                      : " (" + shortened(verdict.origin, kHalfLine) + ").");
    return text;
  }
  static std::string seen(const VerdictEvent& verdict) {
    if (!verdict.level_seen) return "What ran out of the standpipe was not entered.";
    const LevelSeen& level = *verdict.level_seen;
    std::string text =
        "Seen at the standpipe: " + (level.flow.empty() ? "no kind of flow entered" : level.flow);
    if (level.ml_in_10_s) text += ", " + fixed(*level.ml_in_10_s, 1) + " mL in 10 s";
    if (!level.by.empty()) text += ", by " + shortened(level.by, kName);
    if (!level.criterion.empty()) text += ". Asked for: " + shortened(level.criterion, kName);
    if (level.reached) text += *level.reached ? " (reached)" : " (not reached)";
    return text + ".";
  }

  void codes() {
    html_.open("div", "pair");
    scan("Fault codes before the work", record_.codes_before);
    scan("Fault codes after the work", record_.codes_after);
    html_.close();
  }
  void scan(const char* title, const std::optional<ScanRecord>& scan) {
    html_.open("div");
    html_.element("h2", title);
    if (!scan) {
      html_.element("p", "Not read.");
      html_.close();
      return;
    }
    std::vector<std::string> lines;
    for (const ScanRecord::Code& code : scan->codes) {
      if (lines.size() == kMostCodes) break;
      lines.push_back(code.code + (code.text.empty() ? "" : " " + shortened(code.text, kCode)) + " (" +
                      code.ecu + ")");
    }
    if (scan->codes.size() > lines.size()) lines.push_back(more(scan->codes.size() - lines.size()));
    if (scan->codes.empty()) html_.element("p", "No codes told.");
    html_.list(lines);
    html_.element("p",
                  "In the units asked: " + std::to_string(scan->answered.size()) + " answered" +
                      (scan->silent.empty() ? "." : ", " + std::to_string(scan->silent.size()) + " silent."),
                  "lead");
    if (!scan->complete) html_.element("p", "Not complete: " + shortened(joined(scan->why, "; "), kLine));
    html_.close();
  }

  void open_items() {
    html_.element("h2", "What stays open");
    std::vector<std::string> lines;
    std::size_t all = 0;
    for (const OpenItem& one : record_.open_items) {
      if (one.state == OpenItemState::done) continue;
      ++all;
      if (lines.size() == kMostOpen) continue;
      std::string text = one.automatic ? degrees_of_phrase(one.text, facts_.fahrenheit) : one.text;
      if (one.state == OpenItemState::signed_over) text += " (taken over by " + one.by + ")";
      lines.push_back(shortened(text, kLine));
    }
    if (all > lines.size()) lines.push_back(more(all - lines.size()));
    if (lines.empty()) html_.element("p", "Nothing.");
    html_.list(lines);
  }

  /// The first and the last ones: before and after.
  void photos() {
    if (facts_.photos.empty()) return;
    html_.element("h2", "Photos");
    html_.open("div", "photos");
    const std::size_t count = facts_.photos.size();
    for (std::size_t i = 0; i < count; ++i) {
      const bool first = i < kMostPhotos / 2;
      const bool last = i + kMostPhotos / 2 >= count;
      if (count > kMostPhotos && !first && !last) continue;
      const ReportPhoto& one = facts_.photos[i];
      const std::string of = shortened(one.photo.of.empty() ? "photo" : one.photo.of, kName / 2);
      html_.open("figure");
      if (one.data_uri.empty())
        html_.element("p", shortened(one.trouble, kLine), "none");
      else
        html_.raw("<img alt=\"\" src=\"" + one.data_uri + "\">");
      html_.element("figcaption", of + ", " + clock(one.photo.at, began()));
      html_.close();
    }
    html_.close();
    if (count > kMostPhotos) html_.element("p", more(count - kMostPhotos));
  }

  void file() {
    html_.element("h2", "The record behind this sheet");
    std::string text;
    if (facts_.seals == "closed" && facts_.holds)
      text = "Closed and sealed: nothing can be added to it.";
    else if (!facts_.holds)
      text = "Changed after it was written: see the technician's pages.";
    else
      text = "Still open: what comes later is not on this sheet.";
    html_.element("p",
                  text + (facts_.fingerprint.empty()
                              ? " It has no fingerprint yet."
                              : " Its fingerprint, by which anybody can see whether it was changed later:"));
    std::string groups;
    for (std::size_t i = 0; i < facts_.fingerprint.size(); i += 8)
      groups += (i == 0 ? "" : " ") + facts_.fingerprint.substr(i, 8);
    html_.element("p", groups, "fingerprint");
  }

  HtmlWriter& html_;
  const ReportFacts& facts_;
  const JobRecord& record_;
};

}  // namespace

void write_customer_sheet(HtmlWriter& html, const ReportFacts& facts) {
  Sheet(html, facts).write();
}

}  // namespace sumplog
