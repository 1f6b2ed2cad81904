#pragma once
#include <optional>
#include <string_view>
#include <vector>

#include "core/decoder/service_file.h"
#include "core/fluid/balance.h"
#include "core/item/time.h"
#include "core/journal/event.h"

namespace sumplog {

enum class ImbalanceLevel : std::uint8_t { balanced, stop, abort };

/// "balanced", "stop", "abort"
[[nodiscard]] std::string_view text_of(ImbalanceLevel level);

/// Watches that an exchange puts in what it takes out. In and out are entered one after the other: the last entry may wait
/// for its counterpart for a minute before it counts as missing.
class Imbalance {
 public:
  explicit Imbalance(std::optional<ImbalanceLimits> limits);

  /// All volumes of the job in the order in which they happened; those of other parts are passed over.
  /// in   news  one of the exchange has just been entered or corrected
  void on_volumes(const std::vector<CountedVolume>& volumes, bool news, TimePoint now);
  /// Appends the cues `imbalance_stop` and `imbalance_abort`, each when its limit is crossed.
  /// out  the state has become another one, or is known now
  bool update(TimePoint now, std::vector<Event>& events);
  [[nodiscard]] std::optional<TimePoint> deadline() const;

  /// In minus out, litres at the reference temperature. Nothing: there is no exchange.
  [[nodiscard]] std::optional<double> ahead_l() const { return ahead_l_; }
  /// Nothing: no exchange, no limits, or a counterpart is awaited without which nothing can be said.
  [[nodiscard]] std::optional<ImbalanceLevel> level() const { return level_; }

 private:
  [[nodiscard]] ImbalanceLevel level_at(double ahead_l) const;
  [[nodiscard]] std::optional<ImbalanceLevel> judge() const;

  std::optional<ImbalanceLimits> limits_;
  std::optional<double> ahead_l_;
  double before_last_l_ = 0;  ///< without the last entry, where that one may wait for its counterpart
  std::optional<TimePoint> waits_until_;
  std::optional<ImbalanceLevel> level_;
  ImbalanceLevel said_ = ImbalanceLevel::balanced;
};

}  // namespace sumplog
