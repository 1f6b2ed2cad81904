#pragma once
#include <map>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "core/decoder/decoder.h"
#include "core/diagnostics/exchange.h"
#include "core/isotp/message.h"
#include "core/item/frame.h"
#include "core/j1939/diagnostic_message.h"
#include "core/j1939/identifier.h"
#include "core/journal/event.h"

namespace sumplog {

/// Turns answers, broadcast frames and J1939 groups into readings, as the decoders describe them, and into
/// what is known about each unit (VIN, calibration ids, name, supported PIDs). A value that cannot be trusted
/// is never a number.
class Interpreter {
 public:
  explicit Interpreter(const std::vector<Decoder>& decoders);

  /// Events of one exchange: readings, vehicle information, losses. A refusal is a reading without value that says so. "Busy,
  /// repeat the request" says nothing of the value: like a silence it brings nothing.
  void on_exchange(const Exchange& exchange, std::vector<Event>& events);
  /// Values of a freeze frame (service 02), as the decoders describe the parameters.
  [[nodiscard]] std::vector<ReadingEvent> frozen_values(const Exchange& exchange) const;
  /// A frame that a decoder names as a broadcast.
  void on_broadcast(const CanFrame& frame, std::vector<Event>& events) const;
  /// A whole J1939 group.
  void on_group(const Message& message, std::vector<Event>& events);

  [[nodiscard]] bool names(CanId id) const { return broadcast_.contains(id); }
  [[nodiscard]] bool wants_groups() const { return !groups_.empty(); }
  /// Address claims are wanted with any group: they say who the units are.
  [[nodiscard]] bool wants(std::uint32_t group) const {
    const bool always =
        group == kAddressClaimed || group == kGroupActiveCodes || group == kGroupPreviousCodes;
    return groups_.contains(group) || (wants_groups() && always);
  }

 private:
  /// A signal and the unit that it is read from; no unit: any that answers.
  struct Placed {
    Signal signal;
    std::optional<UnitAddress> unit;
    [[nodiscard]] bool comes_from(const Endpoint& endpoint) const;
  };
  struct Known {
    std::string vin;
    std::vector<std::string> calibration_ids;
    std::vector<std::string> cvn;
    std::string name;
    std::vector<std::string> pids;
    std::string claim;
  };

  void on_address_claim(const Message& message, std::vector<Event>& events);
  void on_refusal(const Exchange& exchange, std::vector<Event>& events) const;
  void on_current_data(const Exchange& exchange, std::vector<Event>& events);
  void on_identifiers(const Exchange& exchange, std::vector<Event>& events);
  void on_vin(const Exchange& exchange, std::span<const std::uint8_t> data, std::vector<Event>& events);
  void on_vehicle_information(const Exchange& exchange, std::vector<Event>& events);
  void on_support_bitmap(const Exchange& exchange, std::uint8_t base, std::span<const std::uint8_t> bits,
                         std::vector<Event>& events);

  std::multimap<std::uint8_t, Placed> pids_;
  std::multimap<std::uint32_t, Placed> dids_;  ///< service << 16 | identifier
  std::multimap<CanId, Placed> broadcast_;
  std::multimap<std::uint32_t, Placed> groups_;  ///< by PGN
  std::map<Endpoint, Known> known_;
};

/// What a negative response means for somebody who waits for the value.
/// src  ISO 14229-1, negative response codes
[[nodiscard]] std::string refusal_text(std::uint8_t code);

/// What the decoders of a job name beside the standard's identifiers: their units, then the places of their ranges.
[[nodiscard]] std::vector<UnitAddress> named_units(const std::vector<Decoder>& decoders);

}  // namespace sumplog
