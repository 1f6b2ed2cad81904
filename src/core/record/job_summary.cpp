#include "core/record/job_summary.h"

#include <algorithm>

#include "core/item/entry_names.h"
#include "core/item/overloaded.h"
#include "core/job/entry_fields.h"
#include "core/job/setting.h"
#include "core/job/stages.h"

namespace sumplog {
namespace {

constexpr std::string_view kOdometer = "odometer";

Entry entry_of(const EntryEvent& event) {
  return {event.at, event.id, event.name, event.fields};
}

void take_text(std::string& into, const Entry& entry, std::string_view key) {
  if (auto text = text_field(entry, key)) into = std::move(*text);
}

/// Letters and digits alone, in capitals: how a VIN is typed makes no difference.
std::string plain_vin(std::string_view vin) {
  std::string out;
  for (const char c : vin) {
    if (c >= 'a' && c <= 'z') out += static_cast<char>(c - 'a' + 'A');
    if ((c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9')) out += c;
  }
  return out;
}

void add_words(std::vector<std::string>& to, const std::vector<std::string>& words) {
  for (const std::string& word : words)
    if (std::find(to.begin(), to.end(), word) == to.end()) to.push_back(word);
}

/// A unit that tells a code by SAE J1979 and by ISO 14229-1 has it once: with its failure type, and the states of both.
void join_codes(std::vector<ScanRecord::Code>& codes) {
  const std::vector<ScanRecord::Code> all = codes;
  for (const ScanRecord::Code& brief : all) {
    const auto full = std::find_if(codes.begin(), codes.end(), [&](const ScanRecord::Code& one) {
      return one.ecu == brief.ecu && one.code.starts_with(brief.code + "-");
    });
    if (full == codes.end()) continue;
    add_words(full->status, brief.status);
    std::erase_if(
        codes, [&](const ScanRecord::Code& one) { return one.ecu == brief.ecu && one.code == brief.code; });
  }
}

}  // namespace

JobSummary::JobSummary() {
  for (const std::string_view stage : kStages) record_.stages.push_back({std::string(stage), {}, false, {}});
}

void JobSummary::on_item(const Item& item) {
  const TimePoint at = record_.last ? std::max(*record_.last, time_of(item)) : time_of(item);
  if (!record_.began) record_.began = at;
  record_.last = at;
  if (const auto* settings = std::get_if<Settings>(&item)) {
    if (record_.job.empty()) record_.job = settings->job;
    if (record_.program.empty()) record_.program = settings->program;
    if (record_.time_zone.empty()) record_.time_zone = settings->time_zone;
    for (const auto& [key, value] : settings->values) {
      if (key == setting::kService) record_.service = value;
      if (key == setting::kRedacted) record_.redacted = value == setting::kYes;
    }
  }
  if (const auto* text = std::get_if<DecoderText>(&item))
    if (const std::size_t slash = text->name.find('/'); slash != std::string::npos)
      add_words(record_.decoders, {text->name.substr(0, slash)});
  if (std::holds_alternative<End>(item)) record_.ended = at;
  if (std::holds_alternative<Resume>(item)) {
    record_.ended.reset();
    ++record_.resumed;
  }
}

void JobSummary::on_event(const Event& event) {
  std::visit(Overloaded{
                 [&](const EntryEvent& e) { on_entry(e); },
                 [&](const VehicleEvent& e) { on_vehicle(e); },
                 [&](const ReadingEvent& e) { on_reading(e); },
                 [&](const StageEvent& e) { on_stage(e); },
                 [&](const CodesEvent& e) { on_codes(e); },
                 [&](const ScanEvent& e) { on_scan(e); },
                 [&](const ComparedEvent& e) { record_.compared = e; },
                 [&](const VerdictEvent& e) { on_verdict(e); },
                 [&](const BalanceEvent& e) { record_.balance = e; },
                 [&](const ExchangeEvent& e) { record_.exchange = e; },
                 [&](const LevelSumsEvent& e) { record_.level_sums = e; },
                 [&](const GapEvent& e) {
                   ++record_.gaps;
                   record_.longest_gap = std::max(record_.longest_gap, e.to - e.from);
                 },
                 [&](const LossEvent&) { ++record_.losses; },
                 [](const ThermalEvent&) {},
                 [](const WindowEvent&) {},
                 [](const CheckEvent&) {},
                 [](const CueEvent&) {},
                 [](const ForecastEvent&) {},
                 [](const HoldEvent&) {},
                 [](const ClockEvent&) {},
             },
             event);
}

void JobSummary::on_entry(const EntryEvent& event) {
  const Entry entry = entry_of(event);
  const TimePoint at = event.happened.value_or(event.at);
  const auto text = [&](std::string_view key) { return text_field(entry, key).value_or(""); };
  if (entry.name == kIntake) on_intake(entry);
  if (entry.name == kPartUsed)
    record_.parts.push_back({text("part"), text("number"), number_field(entry, "count").value_or(1)});
  if (entry.name == kNote) record_.notes.push_back({at, text("text"), text("by")});
  if (entry.name == kPhoto) {
    PhotoRecord photo{at, text("file"), text("sha256"), {}, text("type"), text("of")};
    const auto bytes = number_field(entry, "bytes");
    if (bytes && *bytes >= 0 && *bytes < 1e15) photo.bytes = static_cast<std::uint64_t>(*bytes);
    record_.photos.push_back(std::move(photo));
  }
  if (entry.name == kFluidIn) {  // what is in the car now: said at the can, or at reception
    take_text(record_.fluid, entry, "fluid");
    take_text(record_.batch, entry, "batch");
  }
  if (entry.name == kOpenItem) on_typed_item(entry);
  if (entry.name == kOpenItemDone) on_settled(entry, OpenItemState::done);
  if (entry.name == kOpenItemSignedOver) on_settled(entry, OpenItemState::signed_over);
}

void JobSummary::on_intake(const Entry& entry) {
  take_text(record_.plate, entry, "plate");
  take_text(record_.vin_typed, entry, "vin");
  if (const auto km = number_field(entry, "odometer_km")) record_.odometer_typed_km = km;
  take_text(record_.customer, entry, "customer");
  take_text(record_.complaint, entry, "complaint");
  take_text(record_.technician, entry, "technician");
  take_text(record_.transmission, entry, "transmission");
  take_text(record_.unit, entry, "unit");
  take_text(record_.fluid, entry, "fluid");
  take_text(record_.batch, entry, "batch");
}

void JobSummary::on_vehicle(const VehicleEvent& event) {
  if (event.vin.empty()) return;
  for (auto& [ecu, vin] : record_.vins_read)
    if (ecu == event.ecu) {
      vin = event.vin;
      return;
    }
  record_.vins_read.emplace_back(event.ecu, event.vin);
}

void JobSummary::on_reading(const ReadingEvent& event) {
  if (event.signal != kOdometer || !event.value || event.quality != Quality::measured) return;
  if (!record_.odometer_read_km) record_.odometer_read_km = event.value;
  record_.odometer_read_last_km = event.value;
}

void JobSummary::on_stage(const StageEvent& event) {
  const auto found = std::find_if(record_.stages.begin(), record_.stages.end(),
                                  [&](const StageRecord& one) { return one.stage == event.stage; });
  if (found == record_.stages.end()) return;
  const TimePoint at = event.happened.value_or(event.at);
  auto& visits = found->visits;
  const bool open = !visits.empty() && !visits.back().ended;
  switch (event.change) {
    case StageChange::begun: visits.push_back({at, {}, event.happened.has_value()}); break;
    case StageChange::ended:
      if (!open) visits.push_back({{}, {}, false});
      visits.back().ended = at;
      visits.back().late = visits.back().late || event.happened.has_value();
      break;
    case StageChange::skipped:
      found->skipped = true;
      found->skipped_why = event.why;
      break;
  }
}

std::optional<ScanRecord>* JobSummary::scan_named(std::string_view name) {
  if (name == kScanBefore) return &record_.codes_before;
  if (name == kScanAfter) return &record_.codes_after;
  return nullptr;
}

void JobSummary::on_codes(const CodesEvent& event) {
  auto* const scan = scan_named(event.scan);
  if (scan == nullptr || !event.codes) return;
  if (!*scan || (*scan)->ended)
    *scan = ScanRecord{event.scan, {}, false, {"it has not ended"}, {}, {}, {}, {}};
  auto& codes = (*scan)->codes;
  for (const CodeLine& line : *event.codes) {
    auto known = std::find_if(codes.begin(), codes.end(), [&](const ScanRecord::Code& one) {
      return one.ecu == event.ecu && one.code == line.code;
    });
    if (known == codes.end()) known = codes.insert(codes.end(), {event.ecu, line.code, {}, {}, {}});
    add_words(known->status, line.status);
    if (!line.text.empty()) known->text = line.text;
    if (!line.code_class.empty()) known->code_class = line.code_class;
  }
}

void JobSummary::on_scan(const ScanEvent& event) {
  auto* const scan = scan_named(event.scan);
  if (scan == nullptr) return;
  if (!*scan || (*scan)->ended) *scan = ScanRecord{event.scan, {}, false, {}, {}, {}, {}, {}};
  (*scan)->ended = event.at;
  (*scan)->complete = event.complete;
  (*scan)->why = event.why;
  (*scan)->answered = event.answered;
  (*scan)->silent = event.silent;
  (*scan)->not_asked = event.not_asked;
  join_codes((*scan)->codes);
}

void JobSummary::on_verdict(const VerdictEvent& event) {
  auto& all = record_.verdicts;
  const bool again = !all.empty() && all.back().out == event.out && all.back().in == event.in;
  if (again)
    all.pop_back();
  else
    record_.level_sums.reset();  // of an earlier check; those of this one come behind it
  all.push_back(event);
}

void JobSummary::on_typed_item(const Entry& entry) {
  const auto name = text_field(entry, "item");
  if (!name || name->empty()) return;
  const std::string text = text_field(entry, "text").value_or(*name);
  const auto known = std::find_if(typed_items_.begin(), typed_items_.end(),
                                  [&](const OpenItem& one) { return one.item == *name; });
  settled_.erase(*name);  // put on the list again
  if (known != typed_items_.end())
    known->text = text;
  else
    typed_items_.push_back({*name, text, false, OpenItemState::open, "", "", ""});
}

void JobSummary::on_settled(const Entry& entry, OpenItemState state) {
  const auto name = text_field(entry, "item");
  if (!name) return;
  Settlement settled{state, text_field(entry, "by").value_or(""), text_field(entry, "text").value_or(""),
                     number_field(entry, "litres"), ""};
  for (const OpenDuty& duty : open_duties(record()))
    if (duty.item == *name) settled.about = duty.about;
  settled_[*name] = std::move(settled);
}

bool JobSummary::vins_differ() const {
  std::vector<std::string> vins;
  if (const std::string typed = plain_vin(record_.vin_typed); !typed.empty()) vins.push_back(typed);
  for (const auto& [ecu, vin] : record_.vins_read) vins.push_back(plain_vin(vin));
  return std::any_of(vins.begin(), vins.end(), [&](const std::string& vin) { return vin != vins.front(); });
}

JobRecord JobSummary::record() const {
  JobRecord out = record_;
  out.vin_mismatch = vins_differ();
  out.open_items = open_items(open_duties(out), typed_items_, settled_);
  for (const OpenItem& one : out.open_items)
    if (one.state == OpenItemState::open)
      out.missing.push_back(one.item + ": " + one.text +
                            (one.missing.empty() ? "" : " (" + one.missing + ")"));
  out.may_close = out.missing.empty();
  return out;
}

void feed(JobSummary& summary, const Item& item, const std::vector<Event>& events) {
  summary.on_item(item);
  for (const Event& event : events) summary.on_event(event);
}

}  // namespace sumplog
