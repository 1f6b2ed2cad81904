#pragma once
#include <cstdint>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "core/asker/bus_budget.h"
#include "core/asker/code_scan.h"
#include "core/asker/plan.h"
#include "core/asker/presence.h"
#include "core/asker/sweep_range.h"
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

/// How much of the bus our requests and their answers may take.
inline constexpr double kUsualShare = 0.02;  // own choice: nobody on the bus notices it
inline constexpr double kMostShare = 0.10;   // own choice, where a person asks for a rate
/// Counted with where the bit rate is not known.
inline constexpr std::uint32_t kLowestUsualBitRate = 250'000;  // ISO 15765-4: 250 or 500 kbit/s

struct AskerSettings {
  BusName bus{};
  double readings_per_second = kUsualReadingsPerSecond;  ///< of one signal, at most; above 0
  double share = kUsualShare;                            ///< of the bus
  std::uint32_t bit_rate = kLowestUsualBitRate;
  PlanPurpose purpose = PlanPurpose::job;
  Duration closest{};  ///< between two requests, whoever they go to; zero: as the bus and the units allow
  std::vector<SweepRange> sweep{};  ///< what a LiveSweep asks beside the job
};

/// Settings for a rate that a person asks for: as fast as the units answer, within kMostShare of the bus.
[[nodiscard]] AskerSettings at_rate(BusName bus, double readings_per_second);

/// Settings for a sweep: ten requests a second in all at most, the job's own among them, and no signal more than once a second.
[[nodiscard]] AskerSettings sweep_settings(BusName bus, std::vector<SweepRange> ranges);

/// Decides what to ask next. It learns from what the bus showed, never from what it meant to send; it takes
/// no reading and writes no journal. First which units and parameters there are (01 00), then the fluid
/// temperature before everything else, the VIN, and the other signals of the decoders at their poll period.
/// One request is outstanding for each unit; a request to all units waits until nothing is outstanding, and
/// then for all answers. J1939 groups are asked for only after our address was claimed. With the ignition off
/// (Presence) nothing is asked. The same inputs give the same requests.
/// src  ISO 14229-2 P2, P2*; SAE J1979 (several PIDs in one request); SAE J1939-21, -81; own choice: back-off
///      times
class Asker {
 public:
  Asker(const std::vector<Decoder>& decoders, const AskerSettings& settings, TimePoint start);

  /// What one item brought: the echo of a request, "pending", transfers on their way, answers and silences.
  /// in   now  core time after that item
  void on_output(const Output& output, TimePoint now);
  /// A whole message: an own request that came back, or a unit's 0x78.
  void on_message(const Message& message);
  /// A unit is in the middle of an answer of several frames.
  void on_receiving(const Endpoint& unit, TimePoint now);
  void on_exchange(const Exchange& exchange);

  /// Every frame of the bus, error frames too.
  /// in   ours  the echo of a frame that we sent
  void on_frame(const CanFrame& frame, bool ours);
  void set_bit_rate(std::uint32_t bit_rate) { budget_.set_bit_rate(bit_rate); }
  /// A person wants one reading of the fluid temperature now, also with the ignition off. Does nothing while
  /// another tester is active: its answers are read anyhow.
  void on_read_once(TimePoint now);

  /// A scan of fault codes begins; questions of an earlier one are forgotten.
  void on_scan_begun(TimePoint now);
  /// What the scan has not asked yet is not asked.
  void stop_scan();
  /// The scan has asked everything that it can, or there is none.
  [[nodiscard]] bool scan_over() const { return !scan_ || scan_->finished(plan_.open_of_scan()); }

  /// Questions of the scan that are done or given up, and all that are known so far.
  [[nodiscard]] std::pair<std::size_t, std::size_t> scan_progress() const;

  /// A question of a sweep; it is over when sweep_asks() says so, and what came of it the exchanges tell.
  void ask_for_sweep(Task task);
  /// A question of the sweep to this unit alone is waiting, or on its way.
  [[nodiscard]] bool sweep_asks(const Endpoint& unit) const;
  /// Its questions that have not been sent yet are not sent; what it asks again and again goes on.
  void hold_sweep() { drop_of_sweep(false); }
  /// Nothing more is asked for the sweep.
  void stop_sweep() { drop_of_sweep(true); }
  /// Nothing more is asked of this unit alone, whoever wants it.
  void leave_alone(const Endpoint& unit) { left_alone_.insert(unit); }
  /// Why the guard did not let a question of the sweep to this unit pass.
  [[nodiscard]] std::optional<std::string> sweep_refused(const Endpoint& unit) const;

  /// True when there are J1939 groups to be asked for and our address was not claimed yet.
  [[nodiscard]] bool wants_address() const;
  /// The address claim was handed over; groups are asked for when nobody has objected for 250 ms.
  void on_address_claimed(TimePoint at) { address_at_ = at; }
  /// Somebody else has the address: groups are not asked for.
  void on_address_refused(GuardRefusal refusal);

  /// The guard did not let the request pass that next() gave last: it is not asked again.
  void on_refused(GuardRefusal refusal);
  /// Down, gone and bus-off: nothing is asked until the link is up.
  void on_link(LinkState state, TimePoint now);
  /// Somebody else is asking: nothing is asked until it has been quiet for five seconds.
  void on_other_tester(TimePoint at);

  /// The next request to be sent now; call until there is none. Counts as outstanding from here on.
  [[nodiscard]] std::optional<Request> next(TimePoint now);
  /// When next() has something to do, at the latest. Frames that came before must be given first: a request without echo within
  /// 100 ms counts as not sent.
  [[nodiscard]] std::optional<TimePoint> deadline() const;

  /// What is not asked, and why, in words for a person.
  struct NotAsked {
    std::string what;  ///< "22 1A05 of 7E1"
    std::string why;
  };
  [[nodiscard]] std::vector<NotAsked> not_asked() const;
  /// Everything that is asked once was asked, and nothing else is to be asked. Never with PlanPurpose::job.
  [[nodiscard]] bool finished() const;

 private:
  struct Outstanding {
    Request request;
    std::vector<std::size_t> tasks;  ///< several: PIDs in one request
    TimePoint handed{};
    std::optional<TimePoint> echo;
    std::map<Endpoint, TimePoint> busy;  ///< units that need longer, and how long at most
    bool functional = false;
    bool answered = false;
    bool group = false;             ///< SAE J1939
    Duration patience = kP2Client;  ///< how long the first frame of an answer may take
    bool waits_for_all = false;     ///< a group that every unit tells: the first answer is not the last
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
  void remember(const Exchange& exchange);
  void take_scan_questions(TimePoint now);
  void drop_of_sweep(bool repeated_too);
  [[nodiscard]] bool is_under_way(std::size_t task) const;
  void gather_parameters(Outstanding& outstanding, TimePoint now) const;
  void finish_unit(const Outstanding& outstanding, const Exchange* exchange, TimePoint now);
  void finish_all_units(const Outstanding& outstanding, TimePoint now);
  void on_functional_answer(Outstanding& outstanding, const Exchange& exchange);
  void deny_or_retry(const Outstanding& outstanding, std::uint8_t code, TimePoint now);
  void retry_unsent(std::size_t index, TimePoint now);
  [[nodiscard]] bool is_group_answer(const Outstanding& outstanding, const Endpoint& unit) const;
  void on_group_message(const Message& message);
  void on_acknowledgement(const CanFrame& frame);
  void finish_group(const Outstanding& outstanding, TimePoint now);
  void on_answered(TimePoint now);
  void revive(TimePoint now);
  void greet_again(const Endpoint& unit, TimePoint now);
  void on_late_answer(const Exchange& exchange);
  void learn_patience(const Exchange& exchange);

  AskerSettings settings_;
  std::vector<Decoder> decoders_;
  AddressBook book_;
  Plan plan_;
  BusBudget budget_;
  Presence presence_;
  std::vector<Outstanding> outstanding_;
  std::map<Endpoint, Duration> patience_;  ///< by request endpoint: longer than P2 where answers came late
  std::map<Endpoint, Silence> silent_;     ///< by request endpoint
  std::map<Endpoint, Several> several_;    ///< by request endpoint
  std::optional<CodeScan> scan_;
  std::map<Endpoint, bool> heard_;  ///< units that have answered, and whether to a service of SAE J1979
  bool link_up_ = true;
  bool greeted_ = false;         ///< the first 01 00 has had its time
  bool extended_ = false;        ///< requests to all units use 29-bit identifiers
  bool extended_known_ = false;  ///< some unit has answered one
  TimePoint quiet_until_ = TimePoint::min();
  int unsent_ = 0;  ///< requests without echo, since the last echo
  int greeted_again_ = 0;
  std::optional<TimePoint> handed_at_;  ///< the last request
  std::set<Endpoint> left_alone_;       ///< request endpoints
  std::map<Endpoint, std::string> sweep_refused_;
  bool long_waiting_last_ = false;            ///< the last request went to what had waited for long
  std::optional<TimePoint> address_at_;       ///< when our J1939 address was claimed
  TimePoint other_until_ = TimePoint::min();  ///< another tester is active
};

}  // namespace sumplog
