#include "core/learn/payload_log.h"

#include <algorithm>

#include "core/diagnostics/service.h"
#include "core/j1939/identifier.h"
#include "core/j1939/transport.h"

namespace sumplog {
namespace {

constexpr std::size_t kMostPayloads = 1024;  // own choice: 17 minutes at one a second

bool is_transport_part(const CanFrame& frame) {
  const auto parts = split_identifier(frame.id);
  return parts && (parts->group == kGroupTransportManagement || parts->group == kGroupTransportData);
}

}  // namespace

void PayloadSeries::add(TimePoint at, std::span<const std::uint8_t> payload) {
  ++heard_;
  if (!times_.empty() && at - times_.back() < spacing_) return;
  if (times_.size() == kMostPayloads) thin();  // the last one goes: the one before is two old spaces back
  times_.push_back(at);
  bytes_.insert(bytes_.end(), payload.begin(), payload.end());
}

void PayloadSeries::thin() {
  const std::size_t length = source_.length;
  std::size_t kept = 0;
  for (std::size_t i = 0; i < times_.size(); i += 2, ++kept) {
    times_[kept] = times_[i];
    std::copy_n(bytes_.begin() + static_cast<std::ptrdiff_t>(i * length), length,
                bytes_.begin() + static_cast<std::ptrdiff_t>(kept * length));
  }
  times_.resize(kept);
  bytes_.resize(kept * length);
  spacing_ *= 2;
}

void PayloadLog::on_frame(const CanFrame& frame) {
  if (frame.kind != FrameKind::data || frame.length == 0) return;
  PayloadSeries*& last = by_frame_[{frame.bus, frame.id}];
  if (last != nullptr && last->source().length == frame.length) {
    last->add(frame.at, frame.data());
    return;
  }
  if (book_.classify(frame.id)) return;
  if (is_transport_part(frame)) return on_transport_part(frame);
  ByteSource source;
  source.from = {frame.bus, frame.id, std::nullopt};
  add(source, frame.at, frame.data());
  source.length = frame.length;
  const auto found = series_.find(source);
  last = found == series_.end() ? nullptr : &found->second;
}

void PayloadLog::on_exchange(const Exchange& exchange) {
  if (exchange.result != ExchangeResult::answered) return;
  const std::uint8_t asked = exchange.asked.front();
  if (asked != service::kReadDataByIdentifier && asked != service::kReadDataByLocalIdentifier) return;
  const std::size_t head = asked == service::kReadDataByIdentifier ? 3 : 2;
  if (exchange.asked.size() != head || exchange.response.size() <= head) return;
  ByteSource source;
  source.from = *exchange.unit;
  source.asked = exchange.request;
  source.service = asked;
  for (std::size_t i = 1; i < head; ++i) source.identifier = source.identifier << 8U | exchange.asked[i];
  add(source, exchange.ended_at, std::span(exchange.response).subspan(head));
}

void PayloadLog::on_transport_part(const CanFrame& frame) {
  const TransportStep step = groups_.on_frame(frame);
  if (!step.message) return;
  ByteSource source;
  source.from = step.message->from;
  source.group = step.message->group;
  add(source, step.message->at, step.message->payload);
}

void PayloadLog::add(ByteSource source, TimePoint at, std::span<const std::uint8_t> payload) {
  if (payload.size() > kLongest) {
    ++turned_away_;
    return;
  }
  source.length = static_cast<std::uint8_t>(payload.size());
  auto found = series_.find(source);
  if (found == series_.end()) {
    if (series_.size() == kMostSources) {
      ++turned_away_;
      return;
    }
    found = series_.emplace(source, PayloadSeries(source)).first;
  }
  found->second.add(at, payload);
}

}  // namespace sumplog
