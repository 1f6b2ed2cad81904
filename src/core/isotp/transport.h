#pragma once
#include <map>
#include <memory>
#include <optional>
#include <vector>

#include "core/isotp/addressing.h"
#include "core/isotp/message.h"
#include "core/isotp/receiver.h"

namespace sumplog {

/// Everything that one frame, or one deadline, brought about in the transport layer.
struct TransportStep {
  std::optional<Message> message;
  std::optional<TransportLoss> loss;
  std::optional<CanFrame>
      reply;  ///< flow control that the receiver would send; the shell asks the guard, replay drops it
};

/// ISO 15765-2 for every unit on every bus: one Receiver for each Endpoint, created when its identifier is
/// first heard. Interleaved transfers never mix. At most kMaxReceivers; one more is refused with a loss.
class Transport {
 public:
  static constexpr std::size_t kMaxReceivers = 512;
  explicit Transport(AddressBook book);
  [[nodiscard]] TransportStep on_frame(const CanFrame& frame);
  /// Fires what is due at or before `now`, one receiver a call, earliest first, ties in order of the
  /// endpoint.
  [[nodiscard]] TransportStep on_deadline(TimePoint now);
  [[nodiscard]] std::optional<TimePoint> deadline() const;
  [[nodiscard]] const AddressBook& book() const { return book_; }

 private:
  AddressBook book_;
  std::map<Endpoint, Receiver> receivers_;
};

}  // namespace sumplog
