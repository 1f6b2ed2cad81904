#pragma once
#include <cstddef>
#include <cstdint>

#include "core/item/time.h"

namespace sumplog {

/// Bits that a data frame occupies the bus for at most, inter-frame space and every possible stuff bit
/// included.
/// in   bytes  data bytes, 0…8
/// src  Davis, Burns, Bril, Lukkien: "Controller Area Network (CAN) schedulability analysis: refuted,
///      revisited and revised" (2007), equation of the longest frame, 11- and 29-bit identifiers
[[nodiscard]] std::int64_t longest_frame_bits(bool extended, std::size_t bytes);

/// The same for a whole message of ISO 15765-2 in padded frames of eight bytes: its own frames, and the flow
/// control that an answer of several frames gets from us.
/// in   bytes    payload, service id first
///      address  each frame carries an address byte
[[nodiscard]] std::int64_t longest_message_bits(bool extended, std::size_t bytes, bool address);

/// The same for a J1939 group: one frame, or a session in which each packet is granted by a CTS of its own.
/// in   bytes  payload, 0…1785
/// src  SAE J1939-21: seven bytes a packet; RTS, CTS, end-of-message acknowledge
[[nodiscard]] std::int64_t longest_group_bits(std::size_t bytes);

/// How much of the bus we may take: what was spent is paid back at `share` of the bit rate, and only a short
/// burst is lent ahead. So over any time T our requests and their answers take share × (T + burst) at most,
/// and the frames of the last answer.
/// src  own choice: the burst
class BusBudget {
 public:
  /// in   bit_rate  bit/s, above 0
  ///      share     0…1, above 0
  BusBudget(std::uint32_t bit_rate, double share);
  void set_bit_rate(std::uint32_t bit_rate);
  void spend(std::int64_t bits, TimePoint at);
  /// From when on something may be sent again.
  [[nodiscard]] TimePoint free_at() const;

 private:
  double bits_per_second_;
  double share_;
  TimePoint paid_at_ = TimePoint::min();  ///< when everything spent so far is paid back
};

}  // namespace sumplog
