#pragma once
#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "core/asker/plan.h"
#include "core/decoder/decoder.h"
#include "core/diagnostics/exchange.h"
#include "core/guard/read_list.h"
#include "core/guard/request.h"
#include "core/isotp/addressing.h"
#include "core/isotp/message.h"
#include "core/item/item.h"
#include "core/item/time.h"
#include "core/journal/flow.h"

namespace sumplog {

struct AskerSettings {
  BusName bus{};
  double readings_per_second = 2;  ///< of one signal, at most; above 0
};

/// Decides what to ask next. It learns from what the bus showed, never from what it meant to send; it takes
/// no reading and writes no journal. First which units and parameters there are (01 00), then the fluid
/// temperature before everything else, the VIN, and the other signals of the decoders at their poll period.
/// One request is outstanding for each unit; a request to all units waits until nothing is outstanding, and
/// then for all answers. The same inputs give the same requests.
/// src  ISO 14229-2 P2, P2*; SAE J1979 (several PIDs in one request); own choice: back-off times
class Asker {
 public:
  Asker(const std::vector<Decoder>& decoders, AskerSettings settings, TimePoint start);

  /// What one item brought: the echo of a request, "pending", transfers on their way, answers and silences.
  /// in   now  core time after that item
  void on_output(const Output& output, TimePoint now);
  /// A whole message: an own request that came back, or a unit's 0x78.
  void on_message(const Message& message);
  /// A unit is in the middle of an answer of several frames.
  void on_receiving(const Endpoint& unit, TimePoint now);
  void on_exchange(const Exchange& exchange);

  /// The socket did not take it. (No echo within 100 ms is found out here.)
  void on_not_sent(const Request& request, TimePoint now);
  /// The guard did not let it pass: it is not asked again.
  void on_refused(const Request& request, GuardRefusal refusal);
  /// Down, gone and bus-off: nothing is asked until the link is up.
  void on_link(LinkState state, TimePoint now);
  /// Somebody else is asking: nothing is asked until it has been quiet for five seconds.
  void on_other_tester(TimePoint at);

  /// The next request to be sent now; call until there is none. Counts as outstanding from here on.
  [[nodiscard]] std::optional<Request> next(TimePoint now);
  /// When next() has something to do, at the latest. Frames that came before must be given first.
  [[nodiscard]] std::optional<TimePoint> deadline() const;

  /// What is not asked, and why, in words for a person.
  struct NotAsked {
    std::string what;  ///< "22 1A05 of 7E1"
    std::string why;
  };
  [[nodiscard]] std::vector<NotAsked> not_asked() const;

 private:
  struct Outstanding {
    Request request;
    std::vector<std::size_t> tasks;  ///< several: PIDs in one request
    TimePoint handed{};
    std::optional<TimePoint> echo;
    std::map<Endpoint, TimePoint> busy;  ///< units that need longer, and how long at most
    bool functional = false;
    bool answered = false;
    [[nodiscard]] TimePoint deadline() const;
  };
  struct Silence {
    int count = 0;
    TimePoint until{};
  };
  /// Whether a unit takes several PIDs in one request.
  enum class Several : std::uint8_t { yes, doubted, no };

  void on_deadline(TimePoint now);
  [[nodiscard]] std::optional<TimePoint> start_of(const Task& task) const;
  [[nodiscard]] std::optional<TimePoint> unblocked_start_of(const Task& task) const;
  [[nodiscard]] Endpoint endpoint_of(const Task& task) const;
  [[nodiscard]] bool is_outstanding(const Endpoint& to) const;
  void gather_parameters(Outstanding& outstanding, TimePoint now) const;
  void finish_unit(const Outstanding& outstanding, const Exchange* exchange, TimePoint now);
  void finish_all_units(const Outstanding& outstanding, TimePoint now);
  void on_functional_answer(Outstanding& outstanding, const Exchange& exchange);
  void deny_or_retry(const Outstanding& outstanding, std::uint8_t code, TimePoint now);
  void retry_unsent(std::size_t index, TimePoint now);

  AskerSettings settings_;
  AddressBook book_;
  Plan plan_;
  std::vector<Outstanding> outstanding_;
  std::map<Endpoint, Silence> silent_;   ///< by request endpoint
  std::map<Endpoint, Several> several_;  ///< by request endpoint
  bool link_up_ = true;
  bool greeted_ = false;         ///< the first 01 00 has had its time
  bool extended_ = false;        ///< requests to all units use 29-bit identifiers
  bool extended_known_ = false;  ///< some unit has answered one
  TimePoint quiet_until_ = TimePoint::min();
  int unsent_ = 0;  ///< requests without echo, since the last echo
};

}  // namespace sumplog
