#pragma once
#include <cstdint>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "core/decoder/decoder.h"
#include "core/isotp/message.h"
#include "core/item/time.h"

namespace sumplog {

enum class TaskKind : std::uint8_t {
  support,     ///< service 01, which PIDs a unit has: 00, 20, 40 …
  vin,         ///< service 09 InfoType 02
  parameter,   ///< service 01
  identifier,  ///< service 22 or 21
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
  std::uint16_t id = 0;            ///< PID, InfoType, DID or local identifier
  std::optional<Endpoint> target;  ///< request endpoint of one unit; nothing: all units (functional)
  int rank = 0;                    ///< 0 is asked first
  Duration period{};               ///< zero: once
  TimePoint due{};
  int failures = 0;       ///< since the last answer
  bool answered = false;  ///< the unit has given it
  std::string why;        ///< of `denied`, or why it still waits

  [[nodiscard]] std::vector<std::uint8_t> payload() const;
};

/// What is to be asked on one bus: made from the decoders, completed by what the units say they support.
class Plan {
 public:
  /// in   fastest  no signal is asked more often than this
  Plan(const std::vector<Decoder>& decoders, BusName bus, Duration fastest, TimePoint start);

  [[nodiscard]] std::vector<Task>& tasks() { return tasks_; }
  [[nodiscard]] const std::vector<Task>& tasks() const { return tasks_; }

  /// One unit's answer to a support request: `response` is the whole payload, 41 first.
  void on_support(const Endpoint& unit, const std::vector<std::uint8_t>& response);
  /// Every unit has had its time to answer the support request `base`: signals of that range find their unit,
  /// and the next range is asked for where some unit has it and some signal needs it.
  /// in   book  leads from a unit to the endpoint of requests to it
  void on_range_known(const AddressBook& book, std::uint8_t base, TimePoint now);
  /// True when the unit behind `target` said that it supports the PID.
  [[nodiscard]] bool supported(const AddressBook& book, const Endpoint& target, std::uint16_t pid) const;

 private:
  void add_signal(const Decoder& decoder, const Signal& signal, BusName bus, Duration fastest,
                  TimePoint start);

  std::vector<Task> tasks_;
  std::map<Endpoint, std::set<std::uint8_t>> pids_;     ///< by unit; lowest identifier first
  std::set<std::pair<Endpoint, std::uint8_t>> ranges_;  ///< unit and base that it answered
};

/// PIDs of one support bitmap.
/// src  SAE J1979: first bit is base + 1, last one base + 20 hex
inline constexpr std::uint8_t kSupportRange = 0x20;

}  // namespace sumplog
