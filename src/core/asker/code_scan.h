#pragma once
#include <cstdint>
#include <deque>
#include <map>
#include <set>
#include <vector>

#include "core/asker/plan.h"
#include "core/decoder/decoder.h"
#include "core/diagnostics/exchange.h"
#include "core/isotp/addressing.h"

namespace sumplog {

/// Notes who has answered or refused, and whether to a service of SAE J1979. Of units without end the first 512 are kept.
/// in   exchange  not a silence
///      heard     by response endpoint
void note_heard(const Exchange& exchange, std::map<Endpoint, bool>& heard);

/// The questions of one scan of fault codes, handed out as their time comes: first all units at once (SAE J1979), then each
/// unit that is known or may be there by itself (ISO 14229-1 service 19 too), and what the answers make worth asking: freeze
/// frames, snapshots, extended data. Pure; the asker asks.
class CodeScan {
 public:
  /// in   heard  units that have answered in this job, and whether to a service of SAE J1979
  CodeScan(const std::vector<Decoder>& decoders, BusName bus, std::map<Endpoint, bool> heard,
           TimePoint begun);

  /// Any exchange of the bus that is no silence, whoever asked.
  void on_exchange(const Exchange& exchange);
  /// in   open  how many of the tasks handed out are neither done nor given up
  [[nodiscard]] std::vector<Task> take(std::size_t open, TimePoint now);
  [[nodiscard]] bool finished(std::size_t open) const {
    return step_ == Step::done && queue_.empty() && open == 0;
  }
  [[nodiscard]] bool takes_too_long(TimePoint now) const;
  /// Nothing more is asked.
  void give_up() {
    queue_.clear();
    step_ = Step::done;
  }

 private:
  enum class Step : std::uint8_t { all_units, each_unit, done };
  using Question = std::vector<std::uint8_t>;
  void ask(const Endpoint& to, Question question);
  void ask_all(bool extended, Question question);
  void begin_all_units();
  void begin_each_unit();
  [[nodiscard]] bool talks(bool extended) const;
  void on_codes(const Exchange& exchange);
  void on_frozen(const Exchange& exchange);

  AddressBook book_;
  BusName bus_;
  TimePoint begun_;
  bool j1939_ = false;                 ///< a decoder has a parameter of SAE J1939
  std::set<std::uint8_t> parameters_;  ///< PIDs that some decoder can read
  std::map<Endpoint, bool> heard_;     ///< by response endpoint
  std::set<std::pair<Endpoint, Question>>
      told_;  ///< request endpoint and question that was answered or refused
  std::set<std::pair<Endpoint, Question>> asked_;  ///< by this scan, of one unit
  Step step_ = Step::all_units;
  bool begun_all_ = false;
  std::deque<Task> queue_;
};

}  // namespace sumplog
