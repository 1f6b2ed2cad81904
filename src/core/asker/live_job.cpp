#include "core/asker/live_job.h"

#include "core/codes/scan_entry.h"
#include "core/diagnostics/interpreter.h"
#include "core/diagnostics/service.h"
#include "core/item/entry_names.h"
#include "core/item/error_frame.h"
#include "core/j1939/identifier.h"

namespace sumplog {

namespace {

// Another tester is recorded again after so long: often enough to see from when to when it was there.
constexpr Duration kOtherTesterEvery = std::chrono::seconds{10};
// Of our NAME (SAE J1939-81), own choice: we have no serial number, and the address is given up to anybody.
constexpr std::uint32_t kIdentity = 0x50;
constexpr Duration kClaimAtMostEvery = std::chrono::seconds{1};  // own choice: nobody can make us babble
constexpr std::uint32_t kRequest = 0xEA00;                       // SAE J1939-21
// Own choice: a recorder without room is not asked in a loop, and a window that has ended is not told late.
constexpr Duration kAskAgainAfter = std::chrono::milliseconds{100};

}  // namespace

LiveJob::LiveJob(const std::vector<Decoder>& decoders, BusName bus, TimePoint start)
    : LiveJob(decoders, AskerSettings{.bus = bus}, start) {}

LiveJob::LiveJob(const std::vector<Decoder>& decoders, const AskerSettings& settings, TimePoint start)
    : bus_(settings.bus), guard_(AddressBook(named_units(decoders))), asker_(decoders, settings, start) {
  if (!settings.sweep.empty()) sweep_.emplace(settings, start);
}

void LiveJob::run_flow(const Item& item, LiveOutput& out) {
  flow_out_.clear();
  flow_.on_item(item, flow_out_);
  out.events.insert(out.events.end(), std::make_move_iterator(flow_out_.events.begin()),
                    std::make_move_iterator(flow_out_.events.end()));
}

void LiveJob::on_past(const Item& item, LiveOutput& out) {
  run_flow(item, out);
  if (sweep_) sweep_->on_past(flow_out_);
  if (const auto* entry = std::get_if<Entry>(&item)) plug_.on_entry(*entry, flow_.now());
}

void LiveJob::on_person(const Entry& entry) {
  plug_.on_entry(entry, flow_.now());
  if (entry.name == kReadOnceEntry) asker_.on_read_once(flow_.now());
  // With the plug out nothing but the temperature matters: the core says that there was no scan.
  // One of another name that goes on is waited for; the same one is not asked for twice.
  if (entry.name == kScanEntry && !plug_.out() && scanning_ != scan_of(entry)) scan_wanted_ = scan_of(entry);
  if (plug_.out() && scanning_) asker_.stop_scan();
}

void LiveJob::on_scan_mark(const ScanMark& mark) {
  if (mark.begun) {
    scanning_ = mark.scan;
    scan_end_asked_ = false;
    // One that has waited for its turn until the plug came out ends at once, and says so: there is nothing that goes on.
    if (!plug_.out()) asker_.on_scan_begun(flow_.now());
  } else {
    scanning_.reset();
    asker_.stop_scan();
  }
}

/// A scan lies between two marks in the record: the core knows it from there alone.
void LiveJob::mark_scan(TimePoint now, LiveOutput& out) {
  if (scan_wanted_ && !scanning_) {
    out.record.emplace_back(ScanMark{now, true, *scan_wanted_});
    scan_wanted_.reset();
  }
  if (scanning_ && !scan_end_asked_ && asker_.scan_over()) {
    out.record.emplace_back(ScanMark{now, false, *scanning_});
    scan_end_asked_ = true;
  }
}

void LiveJob::on_written(const Item& item, LiveOutput& out) {
  if (std::holds_alternative<Advance>(item)) advance_asked_.reset();
  if (const auto* frame = std::get_if<CanFrame>(&item)) {
    const bool ours = guard_.on_frame(*frame);
    asker_.on_frame(*frame, ours);
    if (!ours) answer_claim_request(*frame, out);
    const auto& other = guard_.other_tester_heard();
    if (other && (!other_tester_at_ || other->at - *other_tester_at_ >= kOtherTesterEvery)) {
      other_tester_at_ = other->at;
      out.record.emplace_back(*other);
    }
    if (other) asker_.on_other_tester(other->at);
    if (const auto state = link_state_of(*frame)) asker_.on_link(*state, frame->at);
  }
  run_flow(item, out);
  if (const auto* entry = std::get_if<Entry>(&item)) on_person(*entry);
  if (const auto* mark = std::get_if<ScanMark>(&item)) on_scan_mark(*mark);
  if (const auto* link = std::get_if<LinkEvent>(&item)) asker_.on_link(link->state, flow_.now());
  asker_.on_output(flow_out_, flow_.now());
  if (sweep_) sweep_->on_written(item, flow_out_);
  for (const CanFrame& reply : flow_out_.replies)
    if (auto frame = guard_.build_flow_control(reply, flow_.now())) out.send.push_back(*frame);
}

bool LiveJob::on_refused(const Item& item, TimePoint now) {
  if (std::holds_alternative<Advance>(item)) {
    advance_asked_.reset();
  } else if (const auto* mark = std::get_if<ScanMark>(&item)) {
    if (!mark->begun)
      scan_end_asked_ = false;
    else if (!scan_wanted_)
      scan_wanted_ = mark->scan;
  } else if (std::holds_alternative<OtherTester>(item)) {
    other_tester_at_.reset();
  } else {
    return false;
  }
  again_at_ = now + kAskAgainAfter;
  return true;
}

void LiveJob::on_time(TimePoint now, LiveOutput& out) {
  if (again_at_ && *again_at_ <= now) again_at_.reset();
  if (!again_at_) record_what_is_due(now, out);
  claim_address(now, out);
  bool more = true;
  while (more) {
    if (sweep_) sweep_->on_time(now, plug_.out(), asker_, out.record);
    send_requests(now, out);
    // What the asker gave up just now makes room for the next question.
    more = sweep_ && sweep_->on_time(now, plug_.out(), asker_, out.record);
  }
}

void LiveJob::record_what_is_due(TimePoint now, LiveOutput& out) {
  if (const auto due = flow_.deadline(); due && *due <= now && !advance_asked_) {
    advance_asked_ = *due;
    out.record.emplace_back(Advance{*due});
  }
  mark_scan(now, out);
}

void LiveJob::send_requests(TimePoint now, LiveOutput& out) {
  while (auto request = asker_.next(now)) {
    if (auto frame = guard_.build(*request, now))
      out.send.push_back(*frame);
    else
      asker_.on_refused(frame.error());
  }
}

void LiveJob::claim_address(TimePoint now, LiveOutput& out) {
  if (!asker_.wants_address()) return;
  if (auto frame = guard_.build_address_claim(bus_, kIdentity, now)) {
    out.send.push_back(*frame);
    claimed_at_ = now;
    asker_.on_address_claimed(now);
  } else {
    asker_.on_address_refused(frame.error());
  }
}

/// Whoever asks who has our address is told; whoever claims it gets it: the guard then lets nothing more pass.
void LiveJob::answer_claim_request(const CanFrame& frame, LiveOutput& out) {
  if (!claimed_at_ || frame.bus != bus_ || frame.at - *claimed_at_ < kClaimAtMostEvery) return;
  const auto parts = split_identifier(frame.id);
  const auto bytes = frame.data();
  const bool asks = parts && parts->group == kRequest && bytes.size() >= 3 &&
                    (bytes[0] | bytes[1] << 8 | bytes[2] << 16) == static_cast<int>(kAddressClaimed) &&
                    (parts->destination == kJ1939Global || parts->destination == kJ1939ServiceTool);
  if (!asks) return;
  claimed_at_ = frame.at;
  if (auto claim = guard_.build_address_claim(bus_, kIdentity, frame.at)) out.send.push_back(*claim);
}

std::optional<GuardedFrame> LiveJob::ask_who(CanId functional, TimePoint now) {
  auto frame = guard_.build({Endpoint{bus_, functional, std::nullopt}, {service::kCurrentData, 0x00}}, now);
  if (!frame) return std::nullopt;
  return *frame;
}

std::optional<TimePoint> LiveJob::deadline() const {
  const auto flow = advance_asked_ || again_at_ ? std::nullopt : flow_.deadline();
  const bool scan_due = scan_wanted_ && !scanning_ && !again_at_;
  const auto asker = scan_due ? std::optional(flow_.now()) : asker_.deadline();
  const auto sweep = sweep_ ? sweep_->deadline(asker_) : std::nullopt;
  std::optional<TimePoint> first;
  for (const auto& due : {flow, asker, sweep, again_at_})
    if (due && (!first || *due < *first)) first = due;
  return first;
}

}  // namespace sumplog
