#include "core/isotp/transport.h"

#include <algorithm>
#include <string>
#include <utility>

#include "core/isotp/loss.h"

namespace sumplog {

Transport::Transport(AddressBook book) : book_(std::move(book)) {}

TransportStep Transport::on_frame(const CanFrame& frame) {
  if (frame.kind != FrameKind::data) return {};
  if (Known* const same = same_as_last(frame)) return hand_on(*same, frame);
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
  Known* const known = receiver_for(from, addressing->role);
  if (known == nullptr) {
    // Only a message of several frames needs to be kept: a single frame is whole, however many others begin.
    Receiver once(config_of(from, addressing->role));
    TransportStep alone = once.on_frame(frame);
    if (!once.receiving()) return alone;
    TransportStep refused;
    refused.loss = TransportLoss{frame.at, from, std::string(kLossTooMany), 1};
    return refused;
  }
  return hand_on(*known, frame);
}

TransportStep Transport::hand_on(Known& known, const CanFrame& frame) {
  const bool was_receiving = known.second.receiving();
  TransportStep step = known.second.on_frame(frame);
  if (known.second.receiving() != was_receiving) note(known);
  if (known.second.receiving()) step.receiving = known.first;
  return step;
}

TransportStep Transport::on_deadline(TimePoint now) {
  Known* const next = earliest();
  if (next == nullptr) return {};
  TransportStep step = next->second.on_deadline(now);
  note(*next);
  return step;
}

TransportStep Transport::on_end(TimePoint now) {
  if (receiving_.empty()) return {};
  Known& first = *receiving_.front();
  TransportStep step = first.second.on_end(now);
  note(first);
  return step;
}

Transport::Known* Transport::receiver_for(const Endpoint& from, Role role) {
  if (last_ != nullptr && last_->first == from) return last_;
  const auto known = receivers_.find(from);
  if (known != receivers_.end()) return last_ = &*known;
  if (receivers_.size() >= kMaxReceivers) {
    const auto idle = std::find_if(receivers_.begin(), receivers_.end(),
                                   [](const auto& one) { return !one.second.receiving(); });
    if (idle == receivers_.end()) return nullptr;
    receivers_.erase(idle);
  }
  return last_ = &*receivers_.emplace(from, Receiver(config_of(from, role))).first;
}

void Transport::note(Known& one) {
  const auto place =
      std::lower_bound(receiving_.begin(), receiving_.end(), one.first,
                       [](const Known* known, const Endpoint& from) { return known->first < from; });
  const bool noted = place != receiving_.end() && *place == &one;
  if (one.second.receiving() && !noted) receiving_.insert(place, &one);
  if (!one.second.receiving() && noted) receiving_.erase(place);
}

ReceiverConfig Transport::config_of(const Endpoint& from, Role role) const {
  ReceiverConfig config;
  config.from = from;
  config.functional = role == Role::functional_request;
  if (role == Role::response) config.reply_to = book_.request_to(from);
  return config;
}

Transport::Known* Transport::earliest() const {
  Known* first = nullptr;
  for (Known* const one : receiving_)
    if (first == nullptr || *one->second.deadline() < *first->second.deadline()) first = one;
  return first;
}

}  // namespace sumplog
