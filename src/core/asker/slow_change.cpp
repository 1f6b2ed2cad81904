#include "core/asker/slow_change.h"

#include <algorithm>
#include <cstdlib>

namespace sumplog {
namespace {

using namespace std::chrono_literals;

// Ours, no source: see the rule in the header.
constexpr int kByteStep = 2;
constexpr Duration kByteStepEvery = 4s;
constexpr int kPairStep = 16;
constexpr Duration kPairStepEvery = 2s;
constexpr int kSmallForEachJump = 4;
constexpr std::size_t kMostBytes = 64;
constexpr Duration kLongestBetween = 1h;  // a sweep that goes on the next day has no step to judge
constexpr int kEnough = 1'000'000;        // counts need not grow for ever

int most_step(int step, Duration every, Duration between) {
  return step + static_cast<int>(step * (between / every));
}

}  // namespace

void SlowChange::Steps::add(int step, int most) {
  if (step == 0) return;
  int& count = std::abs(step) <= most ? small : jumps;
  count = std::min(count + 1, kEnough);
}

void SlowChange::on_payload(std::span<const std::uint8_t> payload, TimePoint at) {
  const std::size_t size = std::min(payload.size(), kMostBytes);
  const Duration between = at - last_at_;
  const bool comparable = last_.size() == size && !places_.empty() && between <= kLongestBetween;
  if (comparable) {
    changed_ = changed_ || !std::equal(last_.begin(), last_.end(), payload.begin());
    const int most_byte = most_step(kByteStep, kByteStepEvery, between);
    const int most_pair = most_step(kPairStep, kPairStepEvery, between);
    for (std::size_t i = 0; i < size; ++i) {
      places_[i].byte.add(static_cast<std::int8_t>(payload[i] - last_[i]), most_byte);
      if (i + 1 == size) continue;  // no byte stands behind it
      const auto pair = [i](auto&& bytes, std::size_t high) {
        return bytes[i + high] << 8 | bytes[i + 1 - high];
      };
      places_[i].high_first.add(static_cast<std::int16_t>(pair(payload, 0) - pair(last_, 0)), most_pair);
      places_[i].low_first.add(static_cast<std::int16_t>(pair(payload, 1) - pair(last_, 1)), most_pair);
    }
  } else {
    changed_ = changed_ || (!last_.empty() && last_.size() != size);
    places_.assign(size, Place{});
  }
  last_.assign(payload.begin(), payload.begin() + static_cast<std::ptrdiff_t>(size));
  last_at_ = at;
}

bool SlowChange::slow() const {
  const auto slow = [](const Steps& steps) {
    return steps.small > 0 && steps.small >= kSmallForEachJump * steps.jumps;
  };
  return std::any_of(places_.begin(), places_.end(), [&](const Place& place) {
    return slow(place.byte) || slow(place.high_first) || slow(place.low_first);
  });
}

}  // namespace sumplog
