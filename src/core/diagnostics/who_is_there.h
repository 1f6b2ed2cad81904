#pragma once
#include <map>
#include <set>
#include <string>
#include <vector>

#include "core/decoder/decoder.h"
#include "core/diagnostics/asked_units.h"
#include "core/isotp/addressing.h"
#include "core/journal/event.h"
#include "core/journal/flow.h"

namespace sumplog {

/// Who was asked, who answered and with what, who kept silent, and what nobody asked: from what a recording shows.
class WhoIsThere {
 public:
  explicit WhoIsThere(const std::vector<Decoder>& decoders);
  /// Every frame before its output: J1939 requests of ours are seen here.
  void on_frame(const CanFrame& frame);
  void on_output(const Output& output);

  /// Somebody answered, or a J1939 unit was heard.
  [[nodiscard]] bool anybody() const { return !answered_.empty() || !j1939_.empty(); }
  /// For a person, each line at most 80 columns where its words allow it.
  [[nodiscard]] std::vector<std::string> text() const;
  /// One JSON object: `asked` `answered` (objects) `j1939` (objects) `silent` `not_asked`.
  [[nodiscard]] std::string json() const;

 private:
  struct J1939Unit {
    std::string claim;                            ///< NAME, 16 hex digits
    std::map<std::uint32_t, std::string> values;  ///< SPN that gave a value, and its signal
  };
  void on_exchange(const Exchange& exchange);
  void on_group(const Message& message);
  void ask(const std::string& question);
  void on_vehicle(const VehicleEvent& event);
  [[nodiscard]] std::vector<std::string> silent() const;

  std::vector<Signal> group_signals_;  ///< of J1939
  std::vector<std::string> asked_;     ///< "7DF 0100", in the order of the first time
  AskedUnits units_;
  std::map<std::string, VehicleEvent> answered_;   ///< by ecu
  std::map<std::uint8_t, J1939Unit> j1939_;        ///< by source address
  std::map<std::string, bool> question_answered_;  ///< by the texts of asked_
};

}  // namespace sumplog
