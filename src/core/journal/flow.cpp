#include "core/journal/flow.h"

#include <algorithm>
#include <string>
#include <utility>

#include "core/job/job_settings.h"
#include "core/journal/layers.h"

namespace sumplog {
/// Time, and the way from the settings to the layers.
class Flow::Parts {
 public:
  void on_item(const Item& item, Output& out) {
    const TimePoint at = later(time_of(item));
    const bool first = !layers_;  // with it the journal begins, whatever it is
    if (first) {
      now_ = at;
      if (std::holds_alternative<Settings>(item) || std::holds_alternative<DecoderText>(item)) {
        configuration_.on_item(item);
        return;
      }
      configure(out);
    }
    if (!first && passes_by(item, at)) {
      now_ = at;
      return;
    }
    while (due_ && *due_ <= at) {
      now_ = std::max(now_, *due_);
      layers_->on_deadline(*due_, now_, out);
      due_ = layers_->deadline();
    }
    now_ = at;
    layers_->on_item(item, now_, out);
    due_ = layers_->deadline();
  }

  void on_passed(TimePoint at) { now_ = later(at); }

  [[nodiscard]] PassBy pass_by() const {
    if (!layers_) return {};
    return {&layers_->meanings(), due_.value_or(TimePoint::max())};
  }
  [[nodiscard]] std::optional<TimePoint> deadline() const { return due_; }
  [[nodiscard]] TimePoint now() const { return now_; }

 private:
  void configure(Output& out) {
    JobConfiguration configuration = configuration_.finish();
    for (const std::string& problem : configuration.problems)
      out.events.push_back(LossEvent{now_, {}, {}, problem, 0});
    layers_.emplace(std::move(configuration));
  }

  /// Most frames of a bus mean nothing to the job: with nothing due, time goes on and that is all.
  [[nodiscard]] bool passes_by(const Item& item, TimePoint at) {
    const auto* frame = std::get_if<CanFrame>(&item);
    return frame != nullptr && (!due_ || *due_ > at) && !layers_->looks_at(*frame);
  }
  [[nodiscard]] TimePoint later(TimePoint at) const {
    return std::max(now_, std::clamp(at, kEarliestTime, kLatestTime));
  }

  TimePoint now_ = TimePoint::min();
  ConfigurationReader configuration_;
  std::optional<Layers> layers_;
  std::optional<TimePoint> due_;  ///< the earliest deadline, since the last item that was not passed by
};

Flow::Flow() : parts_(std::make_unique<Parts>()) {}
Flow::~Flow() = default;
Flow::Flow(Flow&&) noexcept = default;

void Flow::on_item(const Item& item, Output& out) {
  parts_->on_item(item, out);
}
PassBy Flow::pass_by() const {
  return parts_->pass_by();
}
void Flow::on_passed(TimePoint at) {
  parts_->on_passed(at);
}
std::optional<TimePoint> Flow::deadline() const {
  return parts_->deadline();
}
TimePoint Flow::now() const {
  return parts_->now();
}

}  // namespace sumplog
