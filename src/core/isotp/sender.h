#pragma once
#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include "core/isotp/message.h"
#include "core/isotp/pci.h"
#include "core/item/frame.h"
#include "core/item/time.h"

namespace sumplog {

struct SenderConfig {
  Endpoint from{};               ///< what its frames carry: bus, identifier, address byte
  Endpoint flow_control_from{};  ///< whose flow control it obeys
  bool fd = false;               ///< CAN FD frames
  bool bit_rate_switch = false;
  std::size_t frame_length = kClassicLength;  ///< TX_DL: one of kFullLengths; above 8 needs fd
  /// Fills frames up to 8 bytes; nothing: they stay short. Longer ones are always filled, then with
  /// kPaddingByte.
  std::optional<std::uint8_t> padding = kPaddingByte;
  unsigned max_waits = 0;  ///< WFTmax: wait frames in a row that are put up with; 0: none
};

enum class SendResult : std::uint8_t {
  sent,             ///< the last frame is out
  no_flow_control,  ///< N_Bs ran out
  overflow,         ///< the other side has no room for the message
  too_many_waits,   ///< more than max_waits wait frames in a row
  bad_flow_status,  ///< flow status 3…F, or a flow control that is too short
};

struct SenderStep {
  std::optional<CanFrame> frame;    ///< to be sent now
  std::optional<SendResult> ended;  ///< the message is over; `sent` comes together with the last frame
};

/// ISO 15765-2, the segmenting send side. It belongs to the simulated vehicle alone: towards a real one
/// nothing but single frames and flow control leaves the program, and those the guard builds itself.
/// src  ISO 15765-2; BS and STmin from the first flow control of a message only: Linux net/can/isotp.c
class Sender {
 public:
  /// err  std::invalid_argument when the frame length is not one of kFullLengths, or above 8 without fd
  explicit Sender(const SenderConfig& config);

  /// Begins one message.
  /// in   payload  at least one byte; the sender is idle (asserted)
  /// out  the single frame, and `sent`; or the first frame, and then flow control is awaited
  [[nodiscard]] SenderStep start(std::span<const std::uint8_t> payload, TimePoint now);
  /// Obeys flow control that it awaits; every other frame does nothing. Frames to send come from on_deadline.
  [[nodiscard]] SenderStep on_frame(const CanFrame& frame);
  /// When the deadline is at or before `now`: the next consecutive frame (one a call), or the end by N_Bs.
  [[nodiscard]] SenderStep on_deadline(TimePoint now);
  /// The next consecutive frame is due (at once without STmin), or N_Bs.
  [[nodiscard]] std::optional<TimePoint> deadline() const { return deadline_; }
  [[nodiscard]] bool idle() const { return state_ == State::idle; }

 private:
  enum class State : std::uint8_t { idle, awaiting_flow_control, sending };
  [[nodiscard]] std::size_t address_bytes() const { return config_.from.address ? 1 : 0; }
  [[nodiscard]] CanFrame frame_of(std::span<const std::uint8_t> pci, std::size_t count, TimePoint now);
  [[nodiscard]] SenderStep end(SendResult result);

  SenderConfig config_;
  State state_ = State::idle;
  std::optional<TimePoint> deadline_;
  std::vector<std::uint8_t> payload_;
  std::size_t sent_ = 0;  ///< bytes of payload_
  std::uint8_t sequence_ = 0;
  bool parameters_known_ = false;  ///< block size and separation were taken from a flow control
  std::uint8_t block_size_ = 0;
  Duration separation_{};
  std::uint8_t in_block_ = 0;
  unsigned waits_ = 0;
};

}  // namespace sumplog
