#pragma once
#include <cstdint>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "core/decoder/decoder.h"
#include "core/isotp/addressing.h"
#include "core/isotp/message.h"
#include "core/item/time.h"

namespace sumplog {

enum class TaskKind : std::uint8_t {
  support,      ///< service 01, which PIDs a unit has: 00, 20, 40 …
  vin,          ///< service 09 InfoType 02
  information,  ///< service 09, the others: 00 (which there are), 04, 06, 0A
  parameter,    ///< service 01
  identifier,   ///< service 22 or 21
  group,        ///< SAE J1939 group, asked for with PGN EA00
  codes,        ///< about fault codes, or of a sweep: `question` is the whole payload
};

/// What a plan is for.
enum class PlanPurpose : std::uint8_t {
  job,  ///< readings, again and again
  who,  ///< who is there and what does he give: everything once
};

enum class TaskState : std::uint8_t {
  waiting,  ///< it is not known yet which unit to ask
  active,
  done,    ///< asked once, answered
  denied,  ///< never asked again, see `why`
};

/// One thing to ask, again and again or once.
struct Task {
  TaskKind kind = TaskKind::parameter;
  TaskState state = TaskState::active;
  std::uint8_t service = 0;
  std::uint32_t id = 0;            ///< PID, InfoType, DID, local identifier or PGN
  std::optional<Endpoint> target;  ///< request endpoint of one unit; nothing: all units (functional)
  int rank = 0;                    ///< 0 is asked first
  Duration period{};               ///< zero: once
  TimePoint due{};
  int failures = 0;              ///< since the last answer
  bool answered = false;         ///< the unit has given it
  int most_failures = 0;         ///< given up after so many; 0: never
  std::optional<bool> extended;  ///< to all units: 29-bit identifier or not; nothing: whichever is answered
  std::vector<std::uint8_t> question;  ///< of `codes`
  bool of_scan = false;                ///< asked by a scan of fault codes
  bool of_sweep = false;               ///< asked by a sweep of identifiers
  bool at_once = false;  ///< wanted now: whatever is due, and whether or not the ignition seems off
  std::string why;       ///< of `denied`, or why it still waits

  [[nodiscard]] std::vector<std::uint8_t> payload() const;
};

/// What is to be asked on one bus: made from the decoders, completed by what the units say they support.
class Plan {
 public:
  /// in   readings_per_second  no signal is asked more often; above the usual two all are asked oftener than
  ///                           their decoders say, in that proportion
  Plan(const std::vector<Decoder>& decoders, BusName bus, double readings_per_second, PlanPurpose purpose,
       TimePoint start);

  [[nodiscard]] std::vector<Task>& tasks() { return tasks_; }
  [[nodiscard]] const std::vector<Task>& tasks() const { return tasks_; }

  /// One unit's answer to a support request: `response` is the whole payload, 41 first.
  void on_support(const Endpoint& unit, const std::vector<std::uint8_t>& response);
  /// Every unit has had its time to answer the support request `base`: signals of that range find their unit,
  /// and the next range is asked for where some unit has it and some signal needs it.
  /// in   book  leads from a unit to the endpoint of requests to it
  void on_range_known(const AddressBook& book, std::uint8_t base, std::optional<bool> extended,
                      TimePoint now);
  /// One unit's answer to 09 00: `response` is the whole payload, 49 first.
  void on_information_support(const Endpoint& unit, const std::vector<std::uint8_t>& response);
  /// Every unit has had its time to answer 09 00: what some unit has is asked for.
  /// in   extended  as in Task
  void on_information_known(std::optional<bool> extended, TimePoint now);
  void on_information(const Endpoint& unit, std::uint8_t type) { informed_.insert({unit, type}); }
  /// A question of a scan; one that an earlier scan asked is asked again.
  void add_of_scan(Task task);
  [[nodiscard]] std::size_t open_of_scan() const;
  /// What a scan has not asked yet is not asked any more.
  void drop_of_scan(const std::string& why);
  /// True when every unit (with identifiers of this length) that says it has this type has told it.
  [[nodiscard]] bool informed(std::uint8_t type, std::optional<bool> extended) const;
  /// True when the unit has answered 01 00.
  [[nodiscard]] bool greeted_by(const Endpoint& unit) const { return ranges_.contains({unit, 0}); }

  /// True when the unit behind `target` said that it supports the PID.
  [[nodiscard]] bool supported(const AddressBook& book, const Endpoint& target, std::uint32_t pid) const;

 private:
  void add_signal(const Decoder& decoder, const Signal& signal, BusName bus, TimePoint start);
  void add_claims(const std::vector<Decoder>& decoders, BusName bus, TimePoint start);
  void add_questions_to_all(std::optional<bool> extended, TimePoint start);
  void add(Task task);
  [[nodiscard]] Duration period_of(const Signal& signal) const;

  double readings_per_second_;
  PlanPurpose purpose_;
  std::vector<Task> tasks_;
  std::map<Endpoint, std::set<std::uint8_t>> pids_;          ///< by unit; lowest identifier first
  std::set<std::pair<Endpoint, std::uint8_t>> ranges_;       ///< unit and base that it answered
  std::set<std::pair<Endpoint, std::uint8_t>> information_;  ///< unit and InfoType that it says it has
  std::set<std::pair<Endpoint, std::uint8_t>> informed_;     ///< unit and InfoType that it told
};

/// How often a signal is read where nobody says otherwise.
inline constexpr double kUsualReadingsPerSecond =
    2;  // own choice: fluid changes by a tenth of a degree in that time

inline constexpr int kFluidRank = 0;  ///< the fluid temperature comes before everything else

/// PIDs of one support bitmap.
/// src  SAE J1979: first bit is base + 1, last one base + 20 hex
inline constexpr std::uint8_t kSupportRange = 0x20;

}  // namespace sumplog
