#pragma once
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "core/codes/scan_watch.h"
#include "core/diagnostics/interpreter.h"
#include "core/diagnostics/pairing.h"
#include "core/diagnostics/unit_watch.h"
#include "core/isotp/transport.h"
#include "core/j1939/transport.h"
#include "core/job/fluid_sums.h"
#include "core/job/fluid_watch.h"
#include "core/job/job_settings.h"
#include "core/job/stages.h"
#include "core/journal/flow.h"
#include "core/journal/identifier_meanings.h"

namespace sumplog {

/// The layers of one job, joined: what one of them makes of an item goes to the next, and what they say goes to the journal. Made
/// once the settings and decoders of the job are known. Times are given in order; deadlines ≤ now were fired before.
class Layers {
 public:
  explicit Layers(JobConfiguration&& configuration);

  void on_item(const Item& item, TimePoint now, Output& out);
  /// Fires what is due at `due`, the deadline; ties in the order transport, groups, pairing, fluid, sums.
  void on_deadline(TimePoint due, TimePoint now, Output& out);
  [[nodiscard]] std::optional<TimePoint> deadline() const;
  /// False for a frame that no layer looks at.
  [[nodiscard]] bool looks_at(const CanFrame& frame) {
    return frame.kind == FrameKind::error || meaning_of(frame.id).any();
  }
  /// What was found out of identifiers so far.
  [[nodiscard]] const IdentifierMeanings& meanings() const { return meanings_; }

 private:
  [[nodiscard]] Meaning meaning_of(CanId id) {
    const Meaning* const known = meanings_.of(id);
    return known != nullptr ? *known : find_meaning(id);
  }
  Meaning find_meaning(CanId id);
  /// Everything that happened at this moment is known: what follows from it.
  void update(Output& out);
  void on_frame(CanFrame frame, Output& out);
  void on_j1939_frame(const CanFrame& frame, Output& out);
  void on_groups(TransportStep&& step, Output& out);
  void on_group_message(Message&& message, Output& out);
  void on_transport(TransportStep&& step, Output& out);
  void on_pairing(PairingStep&& step, Output& out);
  void on_link(BusName bus, LinkState state);
  void tell_codes(const Exchange& exchange, Output& out);
  void deliver_codes(std::vector<Event>&& events, Output& out);
  void on_given(const GivenReading& given, Output& out);
  void on_entry(Entry entry, Output& out);
  void on_end(Output& out);
  /// Readings also go to the fluid watch, in the order in which they stand in the journal.
  void deliver(std::vector<Event>&& events, Output& out);
  /// A request that nobody answered: the frame that was to come is missed, wherever it was lost.
  void lose_answer(const Exchange& exchange, Output& out) const;
  void lose(Output& out, const TransportLoss& loss) const;
  void lose(Output& out, BusName bus, std::string why, std::uint64_t frames) const;

  TimePoint now_{};
  Transport transport_;
  J1939Transport groups_;
  Pairing pairing_;
  Interpreter interpreter_;
  ScanWatch scans_;
  FluidSums sums_;
  FluidWatch fluid_;
  UnitWatch units_;
  Stages stages_;
  std::set<std::string> entries_;  ///< ids seen: a repeated one is the same entry
  IdentifierMeanings meanings_;
};

}  // namespace sumplog
