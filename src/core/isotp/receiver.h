#pragma once
#include <cstddef>
#include <cstdint>
#include <optional>
#include <string_view>
#include <vector>

#include "core/isotp/message.h"
#include "core/isotp/transport_step.h"
#include "core/item/frame.h"
#include "core/item/time.h"

namespace sumplog {

/// Longest message that is taken unless the configuration says otherwise, in bytes. The largest answers that
/// are read, a long identifier or list of fault codes, fit the 4095 bytes of a classic first frame; this
/// leaves room for CAN FD and bounds what a hostile first frame can make the program collect.
inline constexpr std::uint32_t kDefaultMaxMessage = 65535;  // bytes; own choice, Linux isotp.c had 66000

struct ReceiverConfig {
  Endpoint from{};          ///< who is listened to; with an address byte: extended or mixed addressing
  bool functional = false;  ///< `from` is a functional address: single frames alone are messages
  std::optional<Endpoint> reply_to{};  ///< where flow control would go; nothing: it only listens
  std::uint8_t block_size = 0;         ///< BS of the flow control; 0: one flow control for the whole message
  std::uint8_t st_min = 0;             ///< STmin byte of the flow control
  std::uint32_t max_message = kDefaultMaxMessage;  ///< bytes
};

/// ISO 15765-2, one source address, receive side. Always listens; it proposes flow control only when it knows
/// where to. The buffer grows with the data that came, never with the length that a first frame claims.
/// A frame that is ignored leaves a running transfer alone: table in loss.h.
/// src  ISO 15765-2 (N_PDU formats, unexpected N_PDU, error handling); Linux net/can/isotp.c
class Receiver {
 public:
  explicit Receiver(const ReceiverConfig& config);

  /// in   frame  those of another bus, identifier or address byte, remote and error frames do nothing;
  ///             deadlines ≤ frame.at were fired before (if not: an overdue transfer has timed out all the
  ///             same)
  /// out  at most one message, one loss, one reply; flow control heard here is not for the receive side
  /// err  every dropped frame is a loss: table in loss.h
  [[nodiscard]] TransportStep on_frame(const CanFrame& frame);
  /// Fires the deadline when it is at or before `now`; the loss is stamped with the deadline.
  [[nodiscard]] TransportStep on_deadline(TimePoint now);
  /// Nothing more will come: a transfer that is still running is lost.
  [[nodiscard]] TransportStep on_end(TimePoint now);
  /// N_Cr of the running transfer: set when its state was entered, whether or not anybody sent flow control.
  [[nodiscard]] std::optional<TimePoint> deadline() const { return deadline_; }
  [[nodiscard]] bool receiving() const { return deadline_.has_value(); }
  [[nodiscard]] const ReceiverConfig& config() const { return config_; }

 private:
  [[nodiscard]] std::size_t address_bytes() const { return config_.from.address ? 1 : 0; }
  void on_single(const CanFrame& frame, TransportStep& step);
  void on_first(const CanFrame& frame, TransportStep& step);
  void on_consecutive(const CanFrame& frame, TransportStep& step);
  void on_flow_control(const CanFrame& frame, TransportStep& step);
  void lose(TransportStep& step, TimePoint at, std::string_view why, std::uint64_t frames) const;
  void abandon(TransportStep& step, TimePoint at, std::string_view why);
  [[nodiscard]] std::optional<CanFrame> flow_control(const CanFrame& cause, std::uint8_t status) const;

  ReceiverConfig config_;
  std::optional<TimePoint> deadline_;  ///< set exactly while a transfer runs
  TimePoint first_at_{};
  std::vector<std::uint8_t> payload_;
  std::size_t expected_ = 0;      ///< bytes of the whole message
  std::size_t frame_length_ = 0;  ///< of the first frame; every consecutive frame but the last has it
  std::uint8_t sequence_ = 0;     ///< number that the next consecutive frame must have
  std::uint8_t in_block_ = 0;     ///< consecutive frames since the last flow control
  std::uint64_t frames_ = 0;      ///< of the running transfer
};

}  // namespace sumplog
