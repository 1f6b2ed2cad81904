#include "core/asker/live_job.h"

#include "core/diagnostics/interpreter.h"

namespace sumplog {

LiveJob::LiveJob(const std::vector<Decoder>& decoders, BusName bus)
    : guard_(AddressBook(named_units(decoders))), asker_(decoders, bus) {}

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
    if (guard_.other_tester_heard() && !other_tester_recorded_) {
      other_tester_recorded_ = true;
      out.record.emplace_back(*guard_.other_tester_heard());
    }
  }
  run_flow(item, out);
  for (const Exchange& exchange : flow_out_.exchanges) asker_.on_exchange(exchange);
  for (const CanFrame& reply : flow_out_.replies)
    if (auto frame = guard_.build_flow_control(reply, flow_.now())) out.send.push_back(*frame);
}

void LiveJob::on_time(TimePoint now, LiveOutput& out) {
  if (const auto due = flow_.deadline(); due && *due <= now && !advance_asked_) {
    advance_asked_ = *due;
    out.record.emplace_back(Advance{*due});
  }
  while (auto request = asker_.next(now))
    if (auto frame = guard_.build(*request, now)) out.send.push_back(*frame);
}

std::optional<TimePoint> LiveJob::deadline() const {
  const auto flow = advance_asked_ ? std::nullopt : flow_.deadline();
  const auto asker = asker_.deadline();
  return !flow ? asker : !asker ? flow : std::min(*flow, *asker);
}

}  // namespace sumplog
