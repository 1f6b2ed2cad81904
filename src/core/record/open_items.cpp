#include "core/record/open_items.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <string_view>

#include "core/item/json_line.h"
#include "core/journal/wrapped_text.h"

namespace sumplog {
namespace {

constexpr double kLostOnTheWay_l =
    0.5;  // pan, filter and rags keep 0.1 to 0.4 L (common practice, no source)

// Whoever begins one of these works on the fluid, not only on a scan or a road test.
constexpr std::array<std::string_view, 8> kFluidWork{"sample",          "line opened", "exchange",
                                                     "drain and parts", "refill",      "selector cycle",
                                                     "level check",     "closing"};

const StageRecord* stage_of(const JobRecord& record, std::string_view name) {
  for (const StageRecord& one : record.stages)
    if (one.stage == name) return &one;
  return nullptr;
}

bool fluid_work(const JobRecord& record) {
  if (record.balance || record.verdict() != nullptr) return true;
  return std::any_of(kFluidWork.begin(), kFluidWork.end(), [&](std::string_view name) {
    const StageRecord* const stage = stage_of(record, name);
    return stage != nullptr && !stage->visits.empty();
  });
}

std::string why_not_done(const StageRecord* stage) {
  if (stage == nullptr) return "not done";
  switch (stage->state()) {
    case StageState::not_done: return "not done";
    case StageState::open: return "begun and not ended";
    case StageState::skipped:
      return stage->skipped_why.empty() ? "left out" : "left out: " + stage->skipped_why;
    case StageState::done: break;
  }
  return "";
}

std::string codes_text(const std::vector<ScanRecord::Code>& codes) {
  std::vector<std::string> words;
  words.reserve(codes.size());
  for (const ScanRecord::Code& one : codes) words.push_back(one.ecu + " " + one.code);
  return joined(words, ", ");
}

class Duties {
 public:
  explicit Duties(const JobRecord& record) : record_(record) {}

  std::vector<OpenDuty> take() {
    const bool work = fluid_work(record_);
    if (record_.vin_mismatch) add("vin", "the VIN that was typed and those that were read differ");
    if (work) add_scan("scan before", record_.codes_before, "before");
    if (record_.codes_before && !record_.codes_before->codes.empty())
      add_about("codes before", "codes that were there before the work, for the customer: ",
                codes_text(record_.codes_before->codes));
    if (work) add_scan("scan after", record_.codes_after, "after");
    add_new_codes();
    if (!work) return std::move(out_);
    add_road_test("road test before");
    add_road_test("road test after");
    add_level_check();
    add_transmission();
    if (record_.balance && record_.balance->out_l > 0) {
      add_about("waste", "book as waste what came out: ",
                fixed(record_.balance->out_l, 1) + " L at " + fixed(record_.balance->reference_c, 0) + " °C");
      out_.back().litres = record_.balance->out_l;
    }
    add("safety list", "go through the safety list of the maker's procedure");
    return std::move(out_);
  }

 private:
  void add(std::string item, std::string text) { out_.push_back({std::move(item), std::move(text), {}, {}}); }
  void add_about(std::string item, const std::string& text, std::string about) {
    out_.push_back({std::move(item), text + about, std::move(about), {}});
  }

  void add_scan(const std::string& item, const std::optional<ScanRecord>& scan, const std::string& when) {
    if (scan && scan->complete) return;
    const StageRecord* const stage = stage_of(record_, "codes " + when);
    std::string why =
        stage != nullptr && stage->state() == StageState::skipped ? why_not_done(stage) : "not read";
    if (scan) why = "the scan is not complete" + (scan->why.empty() ? "" : ": " + joined(scan->why, ", "));
    add_about(item, "fault codes " + when + " the work: ", std::move(why));
  }

  void add_new_codes() {
    if (!record_.compared) return;
    std::vector<ScanRecord::Code> codes;
    for (const ComparedEvent::Line& one : record_.compared->lines)
      if (one.change == CodeChange::appeared) codes.push_back({one.ecu, one.code, {}, "", ""});
    if (!codes.empty())
      add_about("new codes", "codes that are there only after the work: ", codes_text(codes));
  }

  void add_road_test(const std::string& name) {
    const std::string why = why_not_done(stage_of(record_, name));
    if (!why.empty()) add(name, name + ": " + why);
  }

  void add_level_check() {
    const VerdictEvent* const verdict = record_.verdict();
    if (verdict == nullptr) {
      add("level check", "level check: not done");
      return;
    }
    std::string text;
    if (!verdict->kept)
      text = "conditions not kept, repeat the check: " + joined(verdict->why, "; ");
    else if (!verdict->level_seen)
      text = "nobody has entered what ran out";
    else if (verdict->level_seen->reached == false)
      text = "the level is not reached: " + verdict->level_seen->flow + ", asked for is " +
             verdict->level_seen->criterion;
    if (text.empty()) return;
    add("level check", "level check: " + text);
    out_.back().about = seconds_text(verdict->in) + " " + text;
  }

  void add_transmission() {
    const std::string& kind = record_.transmission;
    if (kind.empty()) add("transmission", "enter which kind of transmission it is: the list depends on it");
    if (kind == "hybrid")
      add("maintenance mode", "hybrid: look whether the mode that kept the engine running is off again");
    if (kind != "hybrid")
      add("adaptation",
          "adaptation: look up whether the maker asks for it after this work, and have it done");
    if (kind != "dry dct")
      add("fluid counter",
          std::string(kind == "cvt" ? "CVT: counter of the fluid's wear" : "counter of the fluid's life") +
              ": look up whether there is one, and have it set back");
  }

  const JobRecord& record_;
  std::vector<OpenDuty> out_;
};

/// Why an item stays open though somebody has settled it; empty: it does not.
std::string still_missing(const Settlement& settled, const std::string& about, std::optional<double> litres) {
  if (settled.state == OpenItemState::signed_over && settled.by.empty()) return "nobody's name is with it";
  if (litres && settled.litres) {
    if (std::abs(*settled.litres - *litres) <= kLostOnTheWay_l) return "";
    return fixed(*settled.litres, 1) + " L are booked, " + fixed(*litres, 1) + " L came out";
  }
  if (litres && settled.state == OpenItemState::done && settled.text.empty())
    return "say the litres, or how it was booked";
  return settled.about == about ? "" : "it has changed since";
}

void settle(OpenItem& item, const std::map<std::string, Settlement>& settled, const std::string& about,
            std::optional<double> litres) {
  const auto found = settled.find(item.item);
  if (found == settled.end()) return;
  item.by = found->second.by;
  item.answer = found->second.text;
  item.missing = still_missing(found->second, about, litres);
  if (item.missing.empty()) item.state = found->second.state;
}

}  // namespace

std::vector<OpenDuty> open_duties(const JobRecord& record) {
  return Duties(record).take();
}

std::vector<OpenItem> open_items(const std::vector<OpenDuty>& duties, const std::vector<OpenItem>& typed,
                                 const std::map<std::string, Settlement>& settled) {
  std::vector<OpenItem> out;
  for (const OpenDuty& duty : duties) {
    out.push_back({duty.item, duty.text, true, OpenItemState::open, "", "", ""});
    settle(out.back(), settled, duty.about, duty.litres);
  }
  for (const OpenItem& one : typed) {
    const bool known =
        std::any_of(out.begin(), out.end(), [&](const OpenItem& o) { return o.item == one.item; });
    if (known) continue;
    out.push_back(one);
    settle(out.back(), settled, {}, {});
  }
  return out;
}

}  // namespace sumplog
