#include "core/fluid/exchange_estimate.h"

#include <algorithm>

#include "core/fluid/exchange_models.h"
#include "core/item/json_line.h"

namespace sumplog {
namespace {

constexpr std::size_t kMostSteps = 50;   // in one line; the latest
constexpr double kLeastExcess_l = 0.05;  // own choice: less is what a measuring jug does not show

/// Both bounds at once.
class BothBounds {
 public:
  BothBounds(double fill_l, double dead_l)
      : mixed_(FluidContents::Mixing::well_mixed, fill_l, dead_l),
        ideal_(FluidContents::Mixing::ideal_displacement, fill_l, dead_l) {}

  void drain(double litres) {
    mixed_.drain(litres);
    ideal_.drain(litres);
  }
  double fill(double litres) {
    (void)mixed_.fill(litres);
    return ideal_.fill(litres);
  }
  void exchange(double litres) {
    mixed_.exchange(litres);
    ideal_.exchange(litres);
  }
  [[nodiscard]] const FluidContents& mixed() const { return mixed_; }
  [[nodiscard]] const FluidContents& ideal() const { return ideal_; }

 private:
  FluidContents mixed_;
  FluidContents ideal_;
};

bool went(const std::vector<CountedVolume>& volumes, FluidWay way) {
  return std::any_of(volumes.begin(), volumes.end(), [&](const CountedVolume& one) {
    return one.part == kExchangePart && one.way == way && one.litres > 0;
  });
}

class Walk {
 public:
  Walk(double fill_l, double dead_l, bool one_way) : contents_(fill_l, dead_l), one_way_(one_way) {}

  void on_volume(const CountedVolume& one) {
    if (one.part == kExchangePart)
      on_exchange(one);
    else
      on_other(one);
  }

  [[nodiscard]] const BothBounds& contents() const { return contents_; }
  [[nodiscard]] double replaced_l() const { return replaced_l_; }
  [[nodiscard]] double excess_l() const { return excess_l_; }
  std::vector<ExchangeEvent::Step> take_steps() { return std::move(steps_); }

 private:
  void on_exchange(const CountedVolume& one) {
    if (one_way_) {
      through(one.litres);
      return;
    }
    // What goes in and what comes out is entered one after the other: the part that has its counterpart went through.
    const double waiting_l = ahead_l_;
    ahead_l_ += one.way == FluidWay::in ? one.litres : -one.litres;
    const bool meets = (waiting_l > 0) == (one.way == FluidWay::out);
    if (meets) through(std::min(std::abs(waiting_l), one.litres));
  }

  void on_other(const CountedVolume& one) {
    even_out();
    if (one.way == FluidWay::out) {
      contents_.drain(one.litres);
      return;
    }
    fill(one.litres);
    step();
  }

  /// What the exchange left without a counterpart is missing, or is in too much.
  void even_out() {
    if (ahead_l_ < 0) contents_.drain(-ahead_l_);
    if (ahead_l_ > 0) fill(ahead_l_);
    ahead_l_ = 0;
  }

  void fill(double litres) {
    const double beyond_l = contents_.fill(litres);
    replaced_l_ += litres - beyond_l;
    excess_l_ += beyond_l;
  }

  void through(double litres) {
    if (!(litres > 0)) return;
    contents_.exchange(litres);
    through_l_ += litres;
    step();
  }

  void step() {
    steps_.push_back({through_l_, contents_.mixed().share_new(), contents_.ideal().share_new()});
    if (steps_.size() > kMostSteps) steps_.erase(steps_.begin());
  }

  BothBounds contents_;
  bool one_way_;
  double ahead_l_ = 0;
  double through_l_ = 0;
  double replaced_l_ = 0;
  double excess_l_ = 0;
  std::vector<ExchangeEvent::Step> steps_;
};

}  // namespace

std::optional<ExchangeEvent> exchange_estimate(const std::vector<CountedVolume>& volumes,
                                               const ServiceFile& service, std::optional<double> wanted) {
  if (!service.fill_l) return std::nullopt;
  ExchangeEvent out;
  out.fill_l = service.fill_l->value;
  if (service.dead_volume_l) out.dead_l = service.dead_volume_l->value;
  const bool any_out = went(volumes, FluidWay::out);
  const bool any_in = went(volumes, FluidWay::in);
  Walk walk(out.fill_l, out.dead_l, any_out != any_in);
  for (const CountedVolume& one : volumes) walk.on_volume(one);
  out.drained_share = walk.replaced_l() / out.fill_l;
  out.steps = walk.take_steps();
  if (wanted) {
    out.wanted_share = wanted;
    out.more_mixed_l = walk.contents().mixed().more_for(*wanted);
    out.more_ideal_l = walk.contents().ideal().more_for(*wanted);
  }
  if (!service.dead_volume_l) out.assumes.emplace_back("nothing stays that no exchange reaches, nobody said");
  if (any_out != any_in)
    out.assumes.emplace_back(any_in ? "as much came out in the exchange as went in, nobody said"
                                    : "as much went in in the exchange as came out, nobody said");
  if (walk.excess_l() > kLeastExcess_l)
    out.assumes.push_back(fixed(walk.excess_l(), 2) +
                          " L that went in beyond what had come out are not counted as new");
  out.assumes.emplace_back("less is new where parts are not flushed");
  return out;
}

}  // namespace sumplog
