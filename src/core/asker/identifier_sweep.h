#pragma once
#include <cstddef>
#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "core/asker/plan.h"
#include "core/asker/slow_change.h"
#include "core/asker/sweep_range.h"
#include "core/diagnostics/exchange.h"
#include "core/isotp/message.h"
#include "core/item/time.h"

namespace sumplog {

/// How far a sweep is.
struct SweepProgress {
  int pass = 1;           ///< the first one asks everything that was stated, the later ones what has answered
  std::size_t asked = 0;  ///< of this pass, whatever came of it
  std::size_t of = 0;     ///< in this pass
  std::size_t answering = 0;  ///< identifiers that have answered so far
  std::size_t promising = 0;  ///< of these, those that move slowly
};

/// The questions of a sweep and what became of them: which identifiers of which units are asked next. Pure, and without a
/// memory of its own beside the exchanges that it is given: those of a job that is gone on with teach it what is not to be asked
/// again. Whether it may ask at all, others decide (SweepConditions).
///
/// First pass: everything that was stated, in that order; what was refused for good is not asked again, what was silent or refused
/// for the moment once more at its end. Later passes: what has answered; identifiers that move slowly (SlowChange) every 3 s, the
/// others every 20 s, or as often in proportion as the ceiling lets them. One question is outstanding for each unit.
/// After a question without an answer the unit is asked at once what it has answered before: silence to that is trouble.
/// src  own choice: times and counts
class IdentifierSweep {
 public:
  IdentifierSweep(const std::vector<SweepRange>& ranges, BusName bus);

  /// Any exchange, whoever asked, of the past of a job as well.
  void on_exchange(const Exchange& exchange);
  /// What came before this moment is memory: no trouble follows from it.
  void begin();

  // In these the unit is one of units().

  /// The next question to the unit, if one is due; call it when its last one is over. Nothing after trouble.
  [[nodiscard]] std::optional<Task> take(const Endpoint& unit, TimePoint now);
  /// The last question taken was not sent, and will not be.
  void take_back(const Endpoint& unit);
  /// When take() has something, at the earliest.
  [[nodiscard]] std::optional<TimePoint> due(const Endpoint& unit) const;

  /// Why the unit must not be asked any more, one clause.
  [[nodiscard]] std::optional<std::string> trouble(const Endpoint& unit) const;
  /// Its identifiers are out of all passes.
  void leave(const Endpoint& unit);

  [[nodiscard]] const std::vector<Endpoint>& units() const { return order_; }
  [[nodiscard]] SweepProgress progress() const;

 private:
  using Question = std::vector<std::uint8_t>;
  struct Identifier {
    Question question;
    int failures = 0;      ///< silences and refusals since the last answer
    bool denied = false;   ///< refused for good
    bool awaited = false;  ///< taken, and no exchange of it yet
    int pass = 0;          ///< the last one in which it was asked
    TimePoint due{};
    std::optional<SlowChange> answers;   ///< nothing: it never answered
    [[nodiscard]] bool settled() const;  ///< never asked again, or asked again as one that answers
    [[nodiscard]] Duration period() const;
  };
  /// Taken, and neither an exchange of it was seen nor was the next one taken.
  struct Out {
    Question question;
    TimePoint at{};
    bool whether_alive = false;
    int pass_before = 0;
  };
  struct Unit {
    std::vector<Identifier> identifiers;  ///< as stated
    std::map<Question, std::size_t> place;
    std::vector<std::size_t> answering;  ///< in the order in which they answered first
    int pass = 1;
    std::optional<Out> out;
    std::optional<Question> known;  ///< what the unit has answered or refused
    int silent = 0;                 ///< questions in a row that it did not answer
    int busy = 0;                   ///< answers in a row that put us off
    bool left = false;
    std::string trouble;
  };
  [[nodiscard]] static const Identifier* next_of_first_pass(const Unit& unit);
  [[nodiscard]] static const Identifier* most_overdue(const Unit& unit, std::optional<TimePoint> now);
  static void on_silence(Unit& unit);
  static void go_on_to_next_pass(Unit& unit);
  void on_sign_of_life(Unit& unit, const Exchange& exchange) const;

  std::map<Endpoint, Unit> units_;  ///< by request endpoint
  std::vector<Endpoint> order_;
  bool begun_ = false;
};

}  // namespace sumplog
