#pragma once
#include <compare>
#include <cstddef>
#include <cstdint>
#include <map>
#include <optional>
#include <string_view>
#include <vector>

#include "core/isotp/message.h"
#include "core/isotp/transport_step.h"
#include "core/j1939/identifier.h"

namespace sumplog {

// Why the J1939 transport dropped frames: the words of `loss` lines.
//
//   words                                         frames                 a running transfer
//   announcement of an impossible transfer        1                      goes on
//   connection management that cannot be read     1                      goes on
//   data packet without a transfer                1                      (there is none)
//   data packet of a wrong length                 1 + those of the run   ends
//   data packet out of order                      1 + those of the run   ends
//   transfer with packets missing                 those of the run       ends
//   transfer aborted                              those of the run       ends
//   transfer interrupted by a new announcement    those of the run       ends
//   transfer timed out (J1939)                    those of the run       ends
//   J1939 transfer unfinished at the end          those of the run       ends
//   too many J1939 transfers at once              1                      (of others: go on)
//
// One frame brings at most one loss; when it ends an overdue transfer and is itself refused, both are counted
// under the reason of the refused frame.
inline constexpr std::string_view kLossBadAnnouncement = "announcement of an impossible transfer";
inline constexpr std::string_view kLossBadManagement = "connection management that cannot be read";
inline constexpr std::string_view kLossNoTransfer = "data packet without a transfer";
inline constexpr std::string_view kLossPacketLength = "data packet of a wrong length";
inline constexpr std::string_view kLossPacketOrder = "data packet out of order";
inline constexpr std::string_view kLossPacketsMissing = "transfer with packets missing";
inline constexpr std::string_view kLossAborted = "transfer aborted";
inline constexpr std::string_view kLossReannounced = "transfer interrupted by a new announcement";
inline constexpr std::string_view kLossJ1939TimedOut = "transfer timed out (J1939)";
inline constexpr std::string_view kLossJ1939Unfinished = "J1939 transfer unfinished at the end";
inline constexpr std::string_view kLossTooManyTransfers = "too many J1939 transfers at once";

inline constexpr std::uint32_t kGroupTransportManagement = 0xEC00;  // SAE J1939-21, TP.CM
inline constexpr std::uint32_t kGroupTransportData = 0xEB00;        // SAE J1939-21, TP.DT

/// A single J1939 frame as a message of its group. Nothing for an 11-bit identifier, a remote or error frame,
/// and for the two groups of the transport, whose frames are parts.
[[nodiscard]] std::optional<Message> single_frame_message(const CanFrame& frame);

/// Listens to the transport of J1939: broadcast announcements (BAM) and sessions (RTS, CTS). One transfer for
/// each bus, source and destination; several interleave. It sends nothing; to sessions with our own address it
/// proposes CTS, end-of-message acknowledge and abort. A message
/// comes from the identifier that a single frame of its group would have at the default priority, because the
/// same group travels both ways as its length changes. src  SAE J1939-21 (layouts, sizes, T1, T2, T3); Linux
/// net/can/j1939/transport.c
class J1939Transport {
 public:
  static constexpr std::size_t kMaxTransfers = 256;  // own choice: every source address once
  /// in   frame  any; frames of other groups, 11-bit, remote and error frames do nothing
  /// out  at most one message and one loss; CTS and acknowledgements carry no payload
  [[nodiscard]] TransportStep on_frame(const CanFrame& frame);
  /// Fires what is due at or before `now`, one transfer a call, earliest first.
  [[nodiscard]] TransportStep on_deadline(TimePoint now);
  /// Nothing more will come: tells of one running transfer a call, an empty step when there is none left.
  [[nodiscard]] TransportStep on_end(TimePoint now);
  [[nodiscard]] std::optional<TimePoint> deadline() const {
    const auto next = earliest();
    return next == transfers_.end() ? std::nullopt : std::optional(next->second.until);
  }

 private:
  struct Key {
    BusName bus{};
    std::uint8_t source = kJ1939Null;
    std::uint8_t destination = kJ1939Global;
    friend auto operator<=>(const Key&, const Key&) = default;
  };
  struct Transfer {
    std::uint32_t group = 0;
    std::size_t size = 0;     ///< bytes announced
    std::size_t packets = 0;  ///< packets announced
    std::size_t next = 1;     ///< number of the next packet
    std::size_t at_once = 0;  ///< most packets for one CTS
    std::size_t granted = 0;  ///< a session with us: last packet that may come without another CTS
    TimePoint first_at{};
    TimePoint until{};  ///< deadline; of a delivered one: how long packets may be sent again
    std::uint64_t frames = 0;
    bool delivered = false;  ///< a session whose acknowledgement is still to come
    std::vector<std::uint8_t> payload;
  };
  using Transfers = std::map<Key, Transfer>;

  void on_management(const CanFrame& frame, const J1939Identifier& id, TransportStep& step);
  void on_data(const CanFrame& frame, const J1939Identifier& id, TransportStep& step);
  void announce(const CanFrame& frame, const J1939Identifier& id, TransportStep& step);
  void clear_to_send(const CanFrame& frame, const Key& key, TransportStep& step);
  void grant(Transfers::iterator one, TimePoint at, TransportStep& step) const;
  void abort(const Key& key, TimePoint at, std::uint8_t reason, TransportStep& step) const;
  void expire(const Key& key, TimePoint at, TransportStep& step);
  void drop(Transfers::iterator one, TimePoint at, std::string_view why, TransportStep& step);
  /// Of those that still wait for packets; transfers_.end() when there is none.
  [[nodiscard]] Transfers::const_iterator earliest() const;

  Transfers transfers_;
};

}  // namespace sumplog
