#include "core/journal/flow.h"

#include <algorithm>
#include <set>
#include <string>

#include "core/codes/scan_watch.h"
#include "core/decoder/decoder.h"
#include "core/decoder/service_file.h"
#include "core/diagnostics/interpreter.h"
#include "core/diagnostics/pairing.h"
#include "core/diagnostics/unit_watch.h"
#include "core/isotp/transport.h"
#include "core/item/error_frame.h"
#include "core/j1939/identifier.h"
#include "core/j1939/transport.h"
#include "core/job/entry_fields.h"
#include "core/job/fluid_sums.h"
#include "core/job/fluid_watch.h"
#include "core/job/given_reading.h"
#include "core/job/job_settings.h"
#include "core/job/stages.h"
#include "core/journal/identifier_meanings.h"

namespace sumplog {
namespace {

// Years 1700 to 2239: a foreign capture may hold any time, and the deadlines added to it must not overflow.
constexpr TimePoint kEarliest = at_micros(-8500000000000000);
constexpr TimePoint kLatest = at_micros(8500000000000000);

TimePoint bounded(TimePoint at) {
  return std::clamp(at, kEarliest, kLatest);
}

template <class... F>
struct Overloaded : F... {
  using F::operator()...;
};
template <class... F>
Overloaded(F...) -> Overloaded<F...>;  // clang 14 deduces no aggregates

}  // namespace

class Flow::Parts {
 public:
  void on_item(const Item& item, Output& out) {
    if (const auto* frame = std::get_if<CanFrame>(&item); frame != nullptr && passes_by(*frame)) return;
    const bool configures =
        std::holds_alternative<Settings>(item) || std::holds_alternative<DecoderText>(item);
    if (configures && !stage_) {
      now_ = std::max(now_, bounded(time_of(item)));
      configuration_.on_item(item);
      return;
    }
    if (!stage_) {
      now_ = std::max(now_, bounded(time_of(item)));
      configure(out);
    }
    const TimePoint at = std::max(now_, bounded(time_of(item)));
    while (due_ && *due_ <= at) {
      now_ = std::max(now_, *due_);
      fire(*due_, out);
      due_ = earliest();
    }
    now_ = at;
    dispatch(item, out);
    update(out);
    due_ = earliest();
  }

  [[nodiscard]] std::optional<TimePoint> deadline() const { return due_; }

  [[nodiscard]] TimePoint now() const { return now_; }

 private:
  /// The layers, made once the settings and decoders of the job are known.
  struct Stage {
    explicit Stage(JobConfiguration&& c)
        : transport(AddressBook(named_units(c.decoders))),
          pairing(AddressBook(named_units(c.decoders))),
          interpreter(c.decoders),
          scans(c.decoders, c.codes),
          sums(c.service),
          fluid(std::move(c)) {}
    Transport transport;
    J1939Transport groups;
    Pairing pairing;
    Interpreter interpreter;
    ScanWatch scans;
    FluidSums sums;
    FluidWatch fluid;
    UnitWatch units;
    Stages stages;
    std::set<std::string> entries;  ///< ids seen: a repeated one is the same entry
    IdentifierMeanings meanings;

    Meaning meaning_of(CanId id) {
      return meanings.of(id, [this](CanId one) {
        Meaning meaning;
        meaning.transport = transport.book().classify(one).has_value();
        meaning.group = !meaning.transport && interpreter.wants_groups() && split_identifier(one).has_value();
        meaning.broadcast = interpreter.names(one);
        return meaning;
      });
    }
  };

  void configure(Output& out) {
    JobConfiguration configuration = configuration_.finish();
    for (const std::string& problem : configuration.problems)
      out.events.push_back(LossEvent{now_, {}, {}, problem, 0});
    stage_.emplace(std::move(configuration));
  }

  /// Most frames of a bus mean nothing to the job: with nothing due and no news, time goes on and that is all.
  bool passes_by(const CanFrame& frame) {
    if (!stage_ || frame.kind == FrameKind::error || stage_->meaning_of(frame.id).any()) return false;
    const TimePoint at = std::max(now_, bounded(frame.at));
    if (due_ && *due_ <= at) return false;
    now_ = at;
    return true;
  }

  [[nodiscard]] std::optional<TimePoint> earliest() const {
    std::optional<TimePoint> first;
    for (const auto& due : {stage_->transport.deadline(), stage_->groups.deadline(),
                            stage_->pairing.deadline(), stage_->fluid.deadline(), stage_->sums.deadline()})
      if (due && (!first || *due < *first)) first = due;
    return first;
  }

  /// What is due at `due`, the earliest deadline; ties in the order transport, groups, pairing, fluid, sums.
  void fire(TimePoint due, Output& out) {
    if (stage_->transport.deadline() == due) {
      on_transport(stage_->transport.on_deadline(due), out);
    } else if (stage_->groups.deadline() == due) {
      on_groups(stage_->groups.on_deadline(due), out);
    } else if (stage_->pairing.deadline() == due) {
      on_pairing(stage_->pairing.on_deadline(due), out);
    }
    update(out);
  }

  /// Everything that happened at this moment is known: what follows from it.
  void update(Output& out) {
    const std::size_t before = out.events.size();
    stage_->fluid.update(now_, out.events);
    for (std::size_t i = before; i < out.events.size(); ++i)
      if (const auto* thermal = std::get_if<ThermalEvent>(&out.events[i])) stage_->sums.on_thermal(*thermal);
    stage_->sums.update(now_, out.events);
  }

  void dispatch(const Item& item, Output& out) {
    std::visit(
        Overloaded{
            [&](const CanFrame& frame) { on_frame(frame, out); },
            [&](const Entry& entry) { on_entry(entry, out); },
            [&](const LinkEvent& link) { on_link(link.bus, link.state); },
            [&](const ReceiveDrops& drops) { lose(out, drops.bus, "receive buffer overrun", drops.frames); },
            [&](const GivenReading& given) { on_given(given, out); },
            [&](const Unreadable& bad) {
              lose(out, {}, "line " + std::to_string(bad.line) + " cannot be read: " + bad.why, 1);
              stage_->fluid.on_unreadable(now_);
            },
            [&](const Torn& torn) {
              lose(out, {}, "fragment of " + std::to_string(torn.bytes) + " bytes at the end of the file", 0);
            },
            [&](const OtherTester& other) { stage_->units.on_other_tester(other, now_, out.events); },
            [&](const Resume&) {
              stage_->fluid.on_resume(now_);
              stage_->scans.on_break("the program was stopped", now_, out.events);
            },
            [&](const End&) { on_end(out); },
            [](const Advance&) {},
            [&](const ClockStep& clock) {
              out.events.emplace_back(ClockEvent{now_, clock.step});
            },
            [&](const ScanMark& mark) { stage_->scans.on_mark(mark, now_, out.events); },
            [](const Settings&) {},
            [](const DecoderText&) {},
        },
        item);
  }

  void on_frame(CanFrame frame, Output& out) {
    frame.at = now_;
    if (frame.kind == FrameKind::error) {
      if (const auto state = link_state_of(frame)) on_link(frame.bus, *state);
      return;
    }
    if (frame.kind == FrameKind::remote) return;
    const Meaning meaning = stage_->meaning_of(frame.id);
    if (meaning.transport) on_transport(stage_->transport.on_frame(frame), out);
    if (meaning.group) on_j1939_frame(frame, out);
    if (meaning.broadcast) {
      std::vector<Event> events;
      stage_->interpreter.on_broadcast(frame, events);
      deliver(std::move(events), out);
    }
  }

  void on_j1939_frame(const CanFrame& frame, Output& out) {
    const auto id = split_identifier(frame.id);
    if (!id) return;
    on_groups(stage_->groups.on_frame(frame), out);
    if (!stage_->interpreter.wants(id->group)) return;
    if (auto message = single_frame_message(frame)) on_group_message(std::move(*message), out);
  }

  void on_groups(J1939Step&& step, Output& out) {
    if (step.reply) out.replies.push_back(*step.reply);
    if (step.receiving) out.receiving.push_back(*step.receiving);
    if (step.loss) lose(out, *step.loss);
    if (step.message && stage_->interpreter.wants(*step.message->group))
      on_group_message(std::move(*step.message), out);
  }

  void on_group_message(Message&& message, Output& out) {
    std::vector<Event> events;
    stage_->interpreter.on_group(message, events);
    std::vector<Event> told;
    stage_->scans.on_group(message, told);
    out.messages.push_back(std::move(message));
    deliver(std::move(events), out);
    deliver_codes(std::move(told), out);
  }

  void on_transport(TransportStep&& step, Output& out) {
    if (step.reply) out.replies.push_back(*step.reply);
    if (step.receiving) {
      stage_->pairing.on_transfer_started(*step.receiving);
      out.receiving.push_back(*step.receiving);
    }
    if (step.loss) {
      lose(out, *step.loss);
      if (!step.receiving) on_pairing(stage_->pairing.on_transfer_lost(step.loss->from, now_), out);
    }
    if (step.message) {
      out.messages.push_back(*step.message);
      on_pairing(stage_->pairing.on_message(*step.message), out);
    }
  }

  void on_pairing(PairingStep&& step, Output& out) {
    for (const TransportLoss& loss : step.losses) lose(out, loss);
    for (Exchange& exchange : step.exchanges) {
      std::vector<Event> events;
      stage_->interpreter.on_exchange(exchange, events);
      if (exchange.result == ExchangeResult::silent && !stage_->scans.may_be_nobody(exchange))
        lose_answer(exchange, out);
      stage_->units.on_exchange(exchange, out.events);
      deliver(std::move(events), out);
      tell_codes(exchange, out);
      out.exchanges.push_back(std::move(exchange));
    }
  }

  void on_link(BusName bus, LinkState state) {
    stage_->fluid.on_link(bus, state);
    stage_->scans.on_link(state);
  }

  void tell_codes(const Exchange& exchange, Output& out) {
    std::vector<Event> told;
    stage_->scans.on_exchange(exchange, stage_->interpreter.frozen_values(exchange), told);
    deliver_codes(std::move(told), out);
  }

  void deliver_codes(std::vector<Event>&& events, Output& out) {
    for (Event& event : events) {
      if (const auto* codes = std::get_if<CodesEvent>(&event)) stage_->fluid.on_codes(*codes);
      out.events.push_back(std::move(event));
    }
  }

  void on_given(const GivenReading& given, Output& out) {
    ReadingEvent reading;
    reading.at = now_;
    reading.signal = given.signal;
    if (!describe_given(given, reading)) {
      lose(out, {}, given.signal + ": '" + given.value + "' is not a number", 1);
      return;
    }
    deliver({reading}, out);
  }

  void on_entry(Entry entry, Output& out) {
    entry.at = now_;
    if (!stage_->entries.insert(entry.id).second) return;
    out.events.push_back(EntryEvent{now_, entry.id, entry.name, entry.fields, said_time(entry)});
    stage_->stages.on_entry(entry, out.events);
    stage_->fluid.on_entry(entry, out.events);
    stage_->scans.on_entry(entry, now_, out.events);
    stage_->sums.on_entry(entry, stage_->stages.current().value_or(""));
  }

  void on_end(Output& out) {
    while (true) {
      TransportStep step = stage_->transport.on_end(now_);
      if (!step.loss) break;
      on_transport(std::move(step), out);
    }
    while (true) {
      J1939Step step = stage_->groups.on_end(now_);
      if (!step.loss) break;
      on_groups(std::move(step), out);
    }
    stage_->scans.on_break("the recording ended", now_, out.events);
    stage_->fluid.on_end(now_, out.events);
  }

  /// Readings also go to the fluid watch, in the order in which they stand in the journal.
  void deliver(std::vector<Event>&& events, Output& out) {
    for (Event& event : events) {
      if (const auto* reading = std::get_if<ReadingEvent>(&event)) {
        stage_->scans.on_reading(*reading);
        stage_->fluid.on_reading(*reading, out.events);
      }
      out.events.push_back(std::move(event));
    }
  }

  /// A request that nobody answered: the frame that was to come is missed, wherever it was lost.
  void lose_answer(const Exchange& exchange, Output& out) const {
    const std::string ecu =
        exchange.unit ? ecu_text(exchange.unit->id, exchange.unit->address) : std::string{};
    out.events.push_back(
        LossEvent{exchange.ended_at, exchange.request.bus, ecu, "request without an answer", 1});
  }
  void lose(Output& out, const TransportLoss& loss) const {
    out.events.push_back(
        LossEvent{loss.at, loss.from.bus, ecu_text(loss.from.id, loss.from.address), loss.why, loss.frames});
  }
  void lose(Output& out, BusName bus, std::string why, std::uint64_t frames) const {
    out.events.push_back(LossEvent{now_, bus, {}, std::move(why), frames});
  }

  TimePoint now_ = TimePoint::min();
  std::optional<TimePoint> due_;  ///< the earliest deadline, since the last item that was not passed by
  ConfigurationReader configuration_;
  std::optional<Stage> stage_;
};

Flow::Flow() : parts_(std::make_unique<Parts>()) {}
Flow::~Flow() = default;
Flow::Flow(Flow&&) noexcept = default;
Flow& Flow::operator=(Flow&&) noexcept = default;

void Flow::on_item(const Item& item, Output& out) {
  parts_->on_item(item, out);
}
std::optional<TimePoint> Flow::deadline() const {
  return parts_->deadline();
}
TimePoint Flow::now() const {
  return parts_->now();
}

}  // namespace sumplog
