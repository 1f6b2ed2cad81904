#include "core/journal/layers.h"

#include <algorithm>
#include <cassert>
#include <utility>

#include "core/item/error_frame.h"
#include "core/item/overloaded.h"
#include "core/j1939/identifier.h"
#include "core/job/entry_fields.h"
#include "core/job/given_reading.h"

namespace sumplog {

Layers::Layers(JobConfiguration&& configuration)
    : transport_(AddressBook(named_units(configuration.decoders))),
      pairing_(AddressBook(named_units(configuration.decoders))),
      interpreter_(configuration.decoders),
      scans_(configuration.decoders, configuration.codes),
      sums_(configuration.service),
      fluid_(std::move(configuration)) {}

std::optional<TimePoint> Layers::deadline() const {
  constexpr TimePoint kNever = TimePoint::max();
  TimePoint first = kNever;
  const auto note = [&first](const std::optional<TimePoint>& due) {
    if (due && *due < first) first = *due;
  };
  note(transport_.deadline());
  note(groups_.deadline());
  note(pairing_.deadline());
  note(fluid_.deadline());
  note(sums_.deadline());
  return first == kNever ? std::nullopt : std::optional(first);
}

void Layers::on_deadline(TimePoint due, TimePoint now, Output& out) {
  now_ = now;
  if (transport_.deadline() == due) {
    on_transport(transport_.on_deadline(due), out);
  } else if (groups_.deadline() == due) {
    on_groups(groups_.on_deadline(due), out);
  } else if (pairing_.deadline() == due) {
    on_pairing(pairing_.on_deadline(due), out);
  }
  update(out);
}

void Layers::update(Output& out) {
  const std::size_t before = out.events.size();
  fluid_.update(now_, out.events);
  for (std::size_t i = before; i < out.events.size(); ++i)
    if (const auto* thermal = std::get_if<ThermalEvent>(&out.events[i])) sums_.on_thermal(*thermal);
  sums_.update(now_, out.events);
}

Meaning Layers::find_meaning(CanId id) {
  Meaning meaning;
  meaning.transport = transport_.book().classify(id).has_value();
  meaning.group = !meaning.transport && interpreter_.wants_groups() && split_identifier(id).has_value();
  meaning.broadcast = interpreter_.names(id);
  meanings_.remember(id, meaning);
  return meaning;
}

void Layers::on_item(const Item& item, TimePoint now, Output& out) {
  now_ = now;
  std::visit(
      Overloaded{
          [&](const CanFrame& frame) { on_frame(frame, out); },
          [&](const Entry& entry) { on_entry(entry, out); },
          [&](const LinkEvent& link) { on_link(link.bus, link.state); },
          [&](const ReceiveDrops& drops) { lose(out, drops.bus, "receive buffer overrun", drops.frames); },
          [&](const GivenReading& given) { on_given(given, out); },
          [&](const Unreadable& bad) {
            lose(out, {}, "line " + std::to_string(bad.line) + " cannot be read: " + bad.why, 1);
            fluid_.on_unreadable(now_);
          },
          [&](const Torn& torn) {
            lose(out, {}, "fragment of " + std::to_string(torn.bytes) + " bytes at the end of the file", 0);
          },
          [&](const OtherTester& other) { units_.on_other_tester(other, now_, out.events); },
          [&](const Resume&) {
            fluid_.on_resume(now_);
            scans_.on_break("the program was stopped", now_, out.events);
          },
          [&](const End&) { on_end(out); },
          [](const Advance&) {},
          [&](const ClockStep& clock) {
            out.events.emplace_back(ClockEvent{now_, clock.step});
          },
          [&](const ScanMark& mark) { scans_.on_mark(mark, now_, out.events); },
          [](const Settings&) {},
          [](const DecoderText&) {},
      },
      item);
  update(out);
}

void Layers::on_frame(CanFrame frame, Output& out) {
  frame.at = now_;
  if (frame.kind == FrameKind::error) {
    if (const auto state = link_state_of(frame)) on_link(frame.bus, *state);
    return;
  }
  if (frame.kind == FrameKind::remote) return;
  const Meaning meaning = meaning_of(frame.id);
  if (meaning.transport) on_transport(transport_.on_frame(frame), out);
  if (meaning.group) on_j1939_frame(frame, out);
  if (meaning.broadcast) {
    std::vector<Event> events;
    interpreter_.on_broadcast(frame, events);
    deliver(std::move(events), out);
  }
}

void Layers::on_j1939_frame(const CanFrame& frame, Output& out) {
  const auto id = split_identifier(frame.id);
  assert(id);  // it means a group
  on_groups(groups_.on_frame(frame), out);
  if (!interpreter_.wants(id->group)) return;
  if (auto message = single_frame_message(frame)) on_group_message(std::move(*message), out);
}

void Layers::on_groups(TransportStep&& step, Output& out) {
  if (step.reply) out.replies.push_back(*step.reply);
  if (step.receiving) out.receiving.push_back(*step.receiving);
  if (step.loss) lose(out, *step.loss);
  if (step.message && interpreter_.wants(*step.message->group))
    on_group_message(std::move(*step.message), out);
}

void Layers::on_group_message(Message&& message, Output& out) {
  std::vector<Event> events;
  interpreter_.on_group(message, events);
  std::vector<Event> told;
  if (const auto unit = scans_.on_group(message, told))
    fluid_.on_codes_again({unit->bus, ecu_text(unit->id)}, message.at);
  out.messages.push_back(std::move(message));
  deliver(std::move(events), out);
  deliver_codes(std::move(told), out);
}

void Layers::on_transport(TransportStep&& step, Output& out) {
  if (step.reply) out.replies.push_back(*step.reply);
  if (step.receiving) {
    pairing_.on_transfer(*step.receiving);
    out.receiving.push_back(*step.receiving);
  }
  if (step.loss) {
    lose(out, *step.loss);
    if (!step.receiving) on_pairing(pairing_.on_transfer_lost(step.loss->from, now_), out);
  }
  if (step.message) {
    out.messages.push_back(std::move(*step.message));
    on_pairing(pairing_.on_message(out.messages.back()), out);
  }
}

void Layers::on_pairing(PairingStep&& step, Output& out) {
  for (const TransportLoss& loss : step.losses) lose(out, loss);
  for (Exchange& exchange : step.exchanges) {
    std::vector<Event> events;
    interpreter_.on_exchange(exchange, events);
    if (exchange.result == ExchangeResult::silent && !scans_.may_be_nobody(exchange))
      lose_answer(exchange, out);
    units_.on_exchange(exchange, out.events);
    deliver(std::move(events), out);
    tell_codes(exchange, out);
    out.exchanges.push_back(std::move(exchange));
  }
}

void Layers::on_link(BusName bus, LinkState state) {
  fluid_.on_link(bus, state);
  scans_.on_link(bus, state);
}

void Layers::tell_codes(const Exchange& exchange, Output& out) {
  std::vector<Event> told;
  scans_.on_exchange(exchange, interpreter_.frozen_values(exchange), told);
  deliver_codes(std::move(told), out);
}

void Layers::deliver_codes(std::vector<Event>&& events, Output& out) {
  for (Event& event : events) {
    if (const auto* codes = std::get_if<CodesEvent>(&event)) fluid_.on_codes(*codes);
    out.events.push_back(std::move(event));
  }
}

void Layers::on_given(const GivenReading& given, Output& out) {
  ReadingEvent reading;
  reading.at = now_;
  reading.signal = given.signal;
  if (!describe_given(given, reading)) {
    lose(out, {}, given.signal + ": '" + given.value + "' is not a number", 1);
    return;
  }
  deliver({reading}, out);
}

void Layers::on_entry(Entry entry, Output& out) {
  entry.at = now_;
  if (!entries_.insert(entry.id).second) return;
  out.events.push_back(EntryEvent{now_, entry.id, entry.name, entry.fields, said_time(entry)});
  stages_.on_entry(entry, out.events);
  fluid_.on_entry(entry, out.events);
  scans_.on_entry(entry, now_, out.events);
  sums_.on_entry(entry, stages_.current().value_or(""));
}

void Layers::on_end(Output& out) {
  while (true) {
    TransportStep step = transport_.on_end(now_);
    if (!step.loss) break;
    on_transport(std::move(step), out);
  }
  while (true) {
    TransportStep step = groups_.on_end(now_);
    if (!step.loss) break;
    on_groups(std::move(step), out);
  }
  scans_.on_break("the recording ended", now_, out.events);
  fluid_.on_end(now_, out.events);
}

void Layers::deliver(std::vector<Event>&& events, Output& out) {
  for (Event& event : events) {
    if (const auto* reading = std::get_if<ReadingEvent>(&event)) {
      scans_.on_reading(*reading);
      fluid_.on_reading(*reading, out.events);
    }
    out.events.push_back(std::move(event));
  }
}

void Layers::lose_answer(const Exchange& exchange, Output& out) const {
  const std::string ecu = exchange.unit ? ecu_text(exchange.unit->id, exchange.unit->address) : std::string{};
  out.events.push_back(
      LossEvent{exchange.ended_at, exchange.request.bus, ecu, "request without an answer", 1});
}

void Layers::lose(Output& out, const TransportLoss& loss) const {
  out.events.push_back(
      LossEvent{loss.at, loss.from.bus, ecu_text(loss.from.id, loss.from.address), loss.why, loss.frames});
}

void Layers::lose(Output& out, BusName bus, std::string why, std::uint64_t frames) const {
  out.events.push_back(LossEvent{now_, bus, {}, std::move(why), frames});
}

}  // namespace sumplog
