#include "core/fluid/exchange_models.h"

#include <algorithm>

#include "core/thermal/elementary.h"

namespace sumplog {

FluidContents::FluidContents(Mixing mixing, double fill_l, double dead_l)
    : mixing_(mixing), fill_l_(fill_l), dead_l_(dead_l), contents_l_(fill_l - dead_l), old_l_(contents_l_) {}

void FluidContents::drain(double litres) {
  const double drained_l = std::min(litres, contents_l_);
  if (!(drained_l > 0)) return;
  if (mixing_ == Mixing::well_mixed)
    old_l_ -= old_l_ * drained_l / contents_l_;
  else
    old_l_ = std::max(0.0, old_l_ - drained_l);
  contents_l_ -= drained_l;
}

double FluidContents::fill(double litres) {
  const double filled_l = std::min(litres, fill_l_ - dead_l_ - contents_l_);
  contents_l_ += filled_l;
  return litres - filled_l;
}

void FluidContents::exchange(double litres) {
  if (!(contents_l_ > 0)) return;
  if (mixing_ == Mixing::well_mixed)
    old_l_ *= exp_of(-litres / contents_l_);
  else
    old_l_ = std::max(0.0, old_l_ - litres);
}

double FluidContents::share_new() const {
  const double all_l = contents_l_ + dead_l_;
  if (!(all_l > 0)) return 0;
  return std::clamp((contents_l_ - old_l_) / all_l, 0.0, kMostNew);
}

std::optional<double> FluidContents::more_for(double share) const {
  if (share > kMostNew) return std::nullopt;
  const double may_stay_l = (1 - share) * fill_l_ - dead_l_;
  if (old_l_ <= may_stay_l) return 0.0;
  if (!(may_stay_l > 0)) return std::nullopt;
  if (mixing_ == Mixing::well_mixed) return (fill_l_ - dead_l_) * log_of(old_l_ / may_stay_l);
  return old_l_ - may_stay_l;
}

}  // namespace sumplog
