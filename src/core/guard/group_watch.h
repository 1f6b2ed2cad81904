#pragma once
#include <array>
#include <cstdint>
#include <map>
#include <optional>
#include <span>
#include <utility>

#include "core/guard/read_list.h"
#include "core/isotp/message.h"
#include "core/item/result.h"
#include "core/item/time.h"

namespace sumplog {

/// Knows which J1939 units are sending us, in a transport session, a group that we asked for: only they may
/// be given CTS, end-of-message acknowledge or abort.
/// src  SAE J1939-21 transport protocol (TP.CM, TP.DT); timeouts as in Linux net/can/j1939/transport.c
class GroupWatch {
 public:
  using ControlBytes = std::array<std::uint8_t, 8>;

  /// The echo of an own request for a group was seen.
  /// in   destination  the unit asked, or FF for all
  void on_own_request(BusName bus, std::uint8_t destination, std::uint32_t pgn, TimePoint at);
  /// A data frame that is not ours.
  void on_frame(const CanFrame& frame);

  /// Rebuilds the eight bytes of a TP.CM that we may send to `destination`, from the meaning of `proposed`.
  /// err  no_own_request · flow_control_not_listed
  [[nodiscard]] Result<ControlBytes, GuardRefusal> control(BusName bus, std::uint8_t destination,
                                                           std::span<const std::uint8_t> proposed,
                                                           TimePoint now);

 private:
  struct Session {
    std::uint32_t pgn = 0;
    std::uint16_t size = 0;
    std::uint8_t packets = 0;
    std::uint8_t most_at_once = 0;
    unsigned grants_left = 0;
    TimePoint last_at{};
  };
  using Peer = std::pair<BusName, std::uint8_t>;
  std::map<std::pair<Peer, std::uint32_t>, TimePoint> asked_;  ///< peer (FF: all) and group, when
  std::map<Peer, Session> sessions_;
};

}  // namespace sumplog
