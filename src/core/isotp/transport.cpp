#include "core/isotp/transport.h"

#include <algorithm>
#include <string>
#include <utility>

#include "core/isotp/loss.h"

namespace sumplog {
namespace {

TransportStep step_of(ReceiverStep&& from) {
  return {std::move(from.message), std::move(from.loss), from.reply, std::nullopt};
}

}  // namespace

Transport::Transport(AddressBook book) : book_(std::move(book)) {}

TransportStep Transport::on_frame(const CanFrame& frame) {
  if (frame.kind != FrameKind::data) return {};
  const auto addressing = book_.classify(frame.id);
  if (!addressing) return {};
  Endpoint from{frame.bus, frame.id, std::nullopt};
  if (addressing->mode != AddressingMode::normal) {
    if (frame.data().empty()) {
      TransportStep step;
      step.loss = TransportLoss{frame.at, from, std::string(kLossNoControl), 1};
      return step;
    }
    from.address = frame.data()[0];
  }
  Receiver* const receiver = receiver_for(from, addressing->role);
  if (receiver == nullptr) {
    // Only a message of several frames needs to be kept: a single frame is whole, however many others begin.
    Receiver once(config_of(from, addressing->role));
    TransportStep alone = step_of(once.on_frame(frame));
    if (!once.receiving()) return alone;
    TransportStep refused;
    refused.loss = TransportLoss{frame.at, from, std::string(kLossTooMany), 1};
    return refused;
  }
  TransportStep step = step_of(receiver->on_frame(frame));
  if (receiver->receiving()) step.receiving = from;
  return step;
}

TransportStep Transport::on_deadline(TimePoint now) {
  const auto next = earliest();
  if (next == receivers_.end()) return {};
  return step_of(receivers_.at(next->first).on_deadline(now));
}

TransportStep Transport::on_end(TimePoint now) {
  for (auto& [from, receiver] : receivers_) {
    if (receiver.receiving()) return step_of(receiver.on_end(now));
  }
  return {};
}

std::optional<TimePoint> Transport::deadline() const {
  const auto next = earliest();
  return next == receivers_.end() ? std::nullopt : next->second.deadline();
}

Receiver* Transport::receiver_for(const Endpoint& from, Role role) {
  const auto known = receivers_.find(from);
  if (known != receivers_.end()) return &known->second;
  if (receivers_.size() >= kMaxReceivers) {
    const auto idle = std::find_if(receivers_.begin(), receivers_.end(),
                                   [](const auto& one) { return !one.second.receiving(); });
    if (idle == receivers_.end()) return nullptr;
    receivers_.erase(idle);
  }
  return &receivers_.emplace(from, Receiver(config_of(from, role))).first->second;
}

ReceiverConfig Transport::config_of(const Endpoint& from, Role role) const {
  ReceiverConfig config;
  config.from = from;
  config.functional = role == Role::functional_request;
  if (role == Role::response) config.reply_to = book_.request_to(from);
  return config;
}

std::map<Endpoint, Receiver>::const_iterator Transport::earliest() const {
  auto first = receivers_.end();
  for (auto one = receivers_.begin(); one != receivers_.end(); ++one) {
    const auto due = one->second.deadline();
    if (due && (first == receivers_.end() || *due < *first->second.deadline())) first = one;
  }
  return first;
}

}  // namespace sumplog
