#pragma once
#include <map>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "core/decoder/service_file.h"
#include "core/item/time.h"
#include "core/journal/event.h"

namespace sumplog {

/// Which positions of the selector cycle were held long enough while the engine ran: as the bus shows it, or as a person
/// says. The engine fills the circuits, so the holds count for one run of it.
class SelectorCycle {
 public:
  /// What the service file asks for; without a cycle nothing is missing and nothing is said.
  explicit SelectorCycle(const std::optional<ServiceFile>& service);

  /// A position was read.
  /// in   position       as the decoder labels it
  ///      hole           the selector was not seen since the reading before
  ///      running_since  of the engine, while it is known to run; nothing: the hold does not count
  void on_position(TimePoint at, const std::string& position, bool hole,
                   std::optional<TimePoint> running_since, std::vector<Event>& events);
  /// The fluid falls back into the pan: circuits must be filled again. For a check with the engine off it is the next
  /// start that ends what the cycle did.
  void on_engine_stopped();
  void on_engine_started();
  /// For a while nobody saw whether the engine ran. What a person said stands.
  void on_engine_unseen();

  /// A person says that he held a position.
  /// in   held  how long; nothing: as long as was asked for
  void on_held_by_hand(TimePoint now, const std::string& position, std::optional<Duration> held,
                       std::vector<Event>& events);
  /// A person says that the whole cycle was done.
  void on_done_by_hand(TimePoint now, std::vector<Event>& events);

  /// The first position that is not held long enough yet.
  [[nodiscard]] std::optional<std::string> missing() const;
  /// Whether one of the holds rests on a person's word.
  [[nodiscard]] bool by_hand() const { return !ticked_.empty(); }

 private:
  [[nodiscard]] std::optional<Duration> wanted(const std::string& position) const;
  [[nodiscard]] bool enough(const std::string& position) const;
  /// The selector has left the position, or was not seen any more.
  void end_hold(TimePoint now, std::vector<Event>& events);
  void forget_holds();

  std::vector<SelectorHold> wanted_;
  bool engine_off_ = false;  ///< the check is made with the engine off
  std::string position_;     ///< as last seen
  TimePoint since_{};
  Duration hold_{};                          ///< of `position_`, with the engine running
  std::set<std::string, std::less<>> held_;  ///< long enough, seen on the bus
  std::set<std::string, std::less<>> ticked_;
};

}  // namespace sumplog
