#pragma once
#include <cstddef>
#include <map>
#include <optional>
#include <vector>

#include "core/isotp/addressing.h"
#include "core/isotp/message.h"
#include "core/isotp/receiver.h"

namespace sumplog {

/// ISO 15765-2 for every unit on every bus: one Receiver for each Endpoint, created when its identifier is
/// first heard. Interleaved transfers never mix. At most kMaxReceivers; for one more an idle one is forgotten
/// (it holds nothing), and when all of them are receiving a first frame is refused with a loss; single frames
/// always pass.
/// Flow control is proposed for physical responses of units alone, to the request identifier of that unit.
/// Frames of other identifiers, remote and error frames are not transport: they do nothing. Every other frame
/// becomes part of a message, is counted in a loss, or is flow control.
/// src  ISO 15765-2, ISO 15765-4
class Transport {
 public:
  static constexpr std::size_t kMaxReceivers = 512;  // own choice: far above 8 units on each of a few buses
  explicit Transport(AddressBook book);
  Transport(Transport&&) = default;
  Transport& operator=(Transport&&) = default;
  [[nodiscard]] TransportStep on_frame(const CanFrame& frame);
  /// Fires what is due at or before `now`, one receiver a call, earliest first, ties in order of the
  /// endpoint.
  [[nodiscard]] TransportStep on_deadline(TimePoint now);
  /// Nothing more will come: tells of one transfer that is still running a call, in order of the endpoint; an
  /// empty step when there is none left.
  [[nodiscard]] TransportStep on_end(TimePoint now);
  [[nodiscard]] std::optional<TimePoint> deadline() const {
    return receiving_.empty() ? std::nullopt : earliest()->second.deadline();
  }
  [[nodiscard]] const AddressBook& book() const { return book_; }

 private:
  using Known = std::map<Endpoint, Receiver>::value_type;
  [[nodiscard]] Known* receiver_for(const Endpoint& from, Role role);
  /// The receiver of the frame before, when this one is of the same transfer: mostly it is.
  [[nodiscard]] Known* same_as_last(const CanFrame& frame) const {
    const bool same = last_ != nullptr && !last_->first.address && last_->first.id == frame.id &&
                      last_->first.bus == frame.bus;
    return same ? last_ : nullptr;
  }
  [[nodiscard]] TransportStep hand_on(Known& known, const CanFrame& frame);
  [[nodiscard]] ReceiverConfig config_of(const Endpoint& from, Role role) const;
  [[nodiscard]] Known* earliest() const;
  /// Keeps receiving_ true for one receiver whose transfer began or ended.
  void note(Known& one);

  AddressBook book_;
  std::map<Endpoint, Receiver> receivers_;
  std::vector<Known*>
      receiving_;          ///< those with a transfer running, in order of the endpoint; mostly none or one
  Known* last_ = nullptr;  ///< whose frame came last: the next one is mostly of the same transfer
};

}  // namespace sumplog
