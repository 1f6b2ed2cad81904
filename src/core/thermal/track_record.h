#pragma once
#include "core/thermal/pace_filter.h"
#include "core/thermal/warming_hypotheses.h"

namespace sumplog {

/// How well the smooth law of warming has forecast the last levels, and so how far it is believed: a smooth
/// course at idle keeps a good record, a drive does not.
/// src  own research: docs/thermometer.md
class TrackRecord {
 public:
  void restart() { *this = {}; }
  /// What the pace filter has just seen.
  struct Passage {
    double at_s = 0;
    double since_s = 0;        ///< time of the passage before
    bool one_level = false;    ///< exactly one level further, in the same direction
    double direction = 0;      ///< now
    double level_c = 1;        ///< distance of the levels
    double tick_s = 0;         ///< length of the tick in which it was seen
    bool learnt_step = false;  ///< the converter is coarser than its scale, and uneven
  };
  void on_passage(const Passage& passage, const RateMoments& rate);
  /// The course may have changed: most of the record is forgotten.
  void forgive();

  /// Mean squared misfit in squared sigmas; 1 is what the model promises.
  [[nodiscard]] double misfit() const;
  /// Weight of the smooth forecast, 0…1; the rest is the pace filter's.
  [[nodiscard]] double smooth_weight(bool moving) const;

 private:
  double sum_ = 0;
  double count_ = 0;
  // forecast for the level on the way
  double promised_from_s_ = -1;
  double promised_ln_s_ = 0;
  double promised_variance_ = 0;  ///< 0: none
  double promised_tick_s_ = 0;
};

}  // namespace sumplog
