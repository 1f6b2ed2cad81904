#pragma once
#include <map>
#include <optional>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "core/codes/code_table.h"
#include "core/codes/scan_result.h"
#include "core/decoder/decoder.h"
#include "core/diagnostics/asked_units.h"
#include "core/diagnostics/exchange.h"
#include "core/isotp/addressing.h"
#include "core/item/item.h"
#include "core/job/plug.h"
#include "core/journal/event.h"

namespace sumplog {

/// Follows what units tell about their fault codes, whoever asks, and what a scan has reached. A scan lies between its two
/// marks; silence in it is said and never counts as "no codes". After a scan "after" it is compared with the one "before".
class ScanWatch {
 public:
  ScanWatch(const std::vector<Decoder>& decoders, CodeTable meanings);

  void on_mark(const ScanMark& mark, TimePoint now, std::vector<Event>& events);
  /// in   frozen  values of a freeze frame in this answer, as the decoders describe them
  void on_exchange(const Exchange& exchange, std::vector<ReadingEvent> frozen, std::vector<Event>& events);
  /// DM1 and DM2 of SAE J1939; said when they change, and once in each scan.
  /// out  the unit that told its active codes as it had told them: nothing is said, but they were read
  std::optional<Endpoint> on_group(const Message& message, std::vector<Event>& events);
  /// A scan asks addresses where nobody need be: an answer that does not come from there is not lost.
  [[nodiscard]] bool may_be_nobody(const Exchange& exchange) const;
  /// Supply voltage, and distance and time since codes were cleared.
  void on_reading(const ReadingEvent& reading);
  /// The plug: no scan while it is out.
  void on_entry(const Entry& entry, TimePoint now, std::vector<Event>& events);
  void on_link(BusName bus, LinkState state);
  /// The program was stopped, or the job is over: what was not read then is not read.
  void on_break(std::string_view why, TimePoint now, std::vector<Event>& events);

 private:
  struct Scan {
    std::string name;
    BusName bus{};
    std::set<BusName> buses;  ///< on which it has asked or heard
    std::map<Endpoint, UnitCodes> units;
    AskedUnits asked;
    std::set<std::pair<Endpoint, std::uint8_t>> settled;    ///< unit and service: it answered or refused
    std::map<std::pair<Endpoint, std::uint8_t>, int> vain;  ///< how often it was asked so without an answer
    std::vector<std::string> troubles;
    std::optional<double> supply_low_v;
  };
  void keep(const Exchange& exchange, const CodesEvent& event);
  void keep_codes(const Endpoint& from, const CodesEvent& event);
  [[nodiscard]] std::string gap_in(const Scan& scan, const Endpoint& unit, const UnitCodes& codes) const;
  void hear_on(BusName bus);
  void finish(TimePoint now, std::vector<Event>& events);
  [[nodiscard]] const std::string* given_name(const Endpoint& unit) const;
  [[nodiscard]] std::string name_of(const Endpoint& unit) const;
  [[nodiscard]] std::vector<CodeLine> lines_of(const CodeList& list, std::uint8_t service) const;

  std::vector<Decoder> decoders_;
  CodeTable meanings_;
  std::map<Endpoint, CodeFormat> formats_;
  std::set<Endpoint> emission_related_;    ///< units that have answered a service of SAE J1979
  std::set<Endpoint> seen_;                ///< units that have answered anything in this job
  std::map<Endpoint, std::string> names_;  ///< of units that decoders name, without a bus
  std::map<std::pair<Endpoint, std::uint32_t>, std::vector<std::uint8_t>>
      groups_;  ///< DM1 and DM2 as last said
  Plug plug_;
  std::optional<Scan> open_;
  std::optional<TimePoint> ended_;  ///< the last scan
  std::optional<ScanResult> before_;
};

}  // namespace sumplog
