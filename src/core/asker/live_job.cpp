#include "core/asker/live_job.h"

#include "core/diagnostics/interpreter.h"
#include "core/diagnostics/service.h"
#include "core/item/error_frame.h"

namespace sumplog {

namespace {

// Another tester is recorded again after so long: often enough to see from when to when it was there.
constexpr Duration kOtherTesterEvery = std::chrono::seconds{10};

}  // namespace

LiveJob::LiveJob(const std::vector<Decoder>& decoders, BusName bus, TimePoint start)
    : bus_(bus), guard_(AddressBook(named_units(decoders))), asker_(decoders, {.bus = bus}, start) {}

void LiveJob::run_flow(const Item& item, LiveOutput& out) {
  flow_out_.clear();
  flow_.on_item(item, flow_out_);
  out.events.insert(out.events.end(), std::make_move_iterator(flow_out_.events.begin()),
                    std::make_move_iterator(flow_out_.events.end()));
}

void LiveJob::on_past(const Item& item, LiveOutput& out) {
  run_flow(item, out);
}

void LiveJob::on_written(const Item& item, LiveOutput& out) {
  if (std::holds_alternative<Advance>(item)) advance_asked_.reset();
  if (const auto* frame = std::get_if<CanFrame>(&item)) {
    guard_.on_frame(*frame);
    const auto& other = guard_.other_tester_heard();
    if (other && (!other_tester_at_ || other->at - *other_tester_at_ >= kOtherTesterEvery)) {
      other_tester_at_ = other->at;
      out.record.emplace_back(*other);
    }
    if (other) asker_.on_other_tester(other->at);
    if (const auto state = link_state_of(*frame)) asker_.on_link(*state, frame->at);
  }
  run_flow(item, out);
  if (const auto* link = std::get_if<LinkEvent>(&item)) asker_.on_link(link->state, flow_.now());
  asker_.on_output(flow_out_, flow_.now());
  for (const CanFrame& reply : flow_out_.replies)
    if (auto frame = guard_.build_flow_control(reply, flow_.now())) out.send.push_back(*frame);
}

void LiveJob::on_time(TimePoint now, LiveOutput& out) {
  if (const auto due = flow_.deadline(); due && *due <= now && !advance_asked_) {
    advance_asked_ = *due;
    out.record.emplace_back(Advance{*due});
  }
  while (auto request = asker_.next(now)) {
    if (auto frame = guard_.build(*request, now))
      out.send.push_back(*frame);
    else
      asker_.on_refused(*request, frame.error());
  }
}

std::optional<GuardedFrame> LiveJob::ask_who(CanId functional, TimePoint now) {
  auto frame = guard_.build({Endpoint{bus_, functional, std::nullopt}, {service::kCurrentData, 0x00}}, now);
  if (!frame) return std::nullopt;
  return *frame;
}

std::optional<TimePoint> LiveJob::deadline() const {
  const auto flow = advance_asked_ ? std::nullopt : flow_.deadline();
  const auto asker = asker_.deadline();
  return !flow ? asker : !asker ? flow : std::min(*flow, *asker);
}

}  // namespace sumplog
