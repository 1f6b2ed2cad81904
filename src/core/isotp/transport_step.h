#pragma once
#include <optional>

#include "core/isotp/message.h"
#include "core/item/frame.h"

namespace sumplog {

/// What one frame, or one deadline, brought about in a transport layer, of ISO 15765-2 or of SAE J1939-21.
struct TransportStep {
  std::optional<Message> message;     ///< of J1939: `group` is set
  std::optional<TransportLoss> loss;  ///< `why` is one of isotp/loss.h or j1939/transport.h
  /// Flow control (of J1939: CTS, acknowledgement, abort), proposed only: the shell asks the guard, replay drops it.
  std::optional<CanFrame> reply;
  /// Whose transfer of several frames goes on after this frame. A Receiver has one source and does not say it.
  std::optional<Endpoint> receiving;
};

}  // namespace sumplog
