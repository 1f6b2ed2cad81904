#include "core/asker/bit_rate_search.h"

#include <cassert>

#include "core/item/error_frame.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;

// Ours, no source.
constexpr Duration kListen = 1s;     // vehicles repeat their broadcasts every second or faster
constexpr Duration kAnswer = 150ms;  // for one request: P2 of ISO 15765-4 is 50 ms, the rest for adapters
constexpr Duration kAskAgainAfter = 10s;  // nobody there: the ignition may be off
constexpr int kFramesDespiteTrouble = 3;  // a frame has a checksum; several cannot be chance

constexpr CanId kRequests[] = {standard_id(0x7DF), extended_id(0x18DB33F1)};  // ISO 15765-4
constexpr int kRequestCount = 2;

std::string in_kbit(std::uint32_t rate) {
  std::string text = std::to_string(rate / 1000);
  if (rate % 1000 != 0) text += "." + std::to_string(1000 + rate % 1000).substr(1);
  return text;
}

}  // namespace

BitRateSearch::BitRateSearch(std::vector<std::uint32_t> rates, bool echo_acknowledges, TimePoint start)
    : rates_(std::move(rates)), echo_acknowledges_(echo_acknowledges) {
  assert(!rates_.empty());
  begin(Step::listen, 0, start);
}

LinkOrder BitRateSearch::order() const {
  if (found_) return {*found_, false};
  return {rates_[rate_], step_ == Step::listen};
}

void BitRateSearch::begin(Step step, std::size_t rate, TimePoint now) {
  step_ = step;
  rate_ = rate;
  ordered_ = true;
  until_ = now;
  requests_ = 0;
  request_due_ = false;
  acknowledged_ = false;
  frames_ = 0;
  step_troubled_ = false;
}

void BitRateSearch::on_order_done(TimePoint now) {
  ordered_ = false;
  frames_ = 0;
  step_troubled_ = false;
  if (step_ == Step::listen) {
    until_ = now + kListen;
  } else {
    request_due_ = true;
    until_ = now + kAnswer;
  }
}

void BitRateSearch::heard() {
  ++frames_;
  if (!step_troubled_ || frames_ >= kFramesDespiteTrouble) found_ = rates_[rate_];
}

void BitRateSearch::troubled() {
  step_troubled_ = true;
  if (step_ == Step::listen) round_troubled_ = true;
}

void BitRateSearch::on_frame(const CanFrame& frame) {
  if (ordered_ || found_) return;
  if (frame.kind == FrameKind::error) {
    if (tells_trouble(frame)) troubled();
    return;
  }
  const bool own = step_ == Step::ask && requests_ > 0 && frame.id == kRequests[requests_ - 1];
  if (own) {
    acknowledged_ = true;
  } else {
    heard();
  }
}

void BitRateSearch::on_errors_counted() {
  if (!ordered_ && !found_) troubled();
}

std::optional<CanId> BitRateSearch::next_request(TimePoint now) {
  if (!request_due_ || found_ || step_troubled_) return std::nullopt;
  request_due_ = false;
  until_ = now + kAnswer;
  return kRequests[requests_++];
}

void BitRateSearch::on_time(TimePoint now) {
  if (ordered_ || found_) return;
  const bool stop_asking = step_ == Step::ask && step_troubled_;
  if (!stop_asking && now < until_) return;
  if (!stop_asking && step_ == Step::ask && requests_ < kRequestCount) {
    request_due_ = true;
    until_ = now + kAnswer;
    return;
  }
  // Nobody answered either request, but somebody took them: the rate is right.
  if (!stop_asking && acknowledged_ && echo_acknowledges_) {
    found_ = rates_[rate_];
    return;
  }
  go_on(now);
}

void BitRateSearch::go_on(TimePoint now) {
  if (rate_ + 1 < rates_.size()) {
    begin(step_, rate_ + 1, now);
    return;
  }
  if (step_ == Step::ask) {
    asked_at_ = now;
    begin(Step::listen, 0, now);
    return;
  }
  heard_elsewhere_ = round_troubled_;
  round_troubled_ = false;
  const bool may_ask = !heard_elsewhere_ && (!asked_at_ || now - *asked_at_ >= kAskAgainAfter);
  begin(may_ask ? Step::ask : Step::listen, 0, now);
}

std::string BitRateSearch::rates_text() const {
  std::string text;
  for (std::size_t i = 0; i < rates_.size(); ++i)
    text += (i == 0 ? "" : i + 1 == rates_.size() ? " or " : ", ") + in_kbit(rates_[i]);
  return text + " kbit/s";
}

std::string BitRateSearch::state_text() const {
  if (found_) return "the bus has " + in_kbit(*found_) + " kbit/s";
  if (heard_elsewhere_)
    return "somebody talks on this bus, but not at " + rates_text() + ": name the rate with --bitrate";
  if (asked_at_) return "nobody answers at " + rates_text() + ": is the plug in and the ignition on?";
  return (step_ == Step::listen ? "listening at " : "asking at ") + in_kbit(rates_[rate_]) + " kbit/s";
}

}  // namespace sumplog
