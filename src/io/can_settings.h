#pragma once
#include <cstdint>
#include <optional>
#include <string>

#include "core/asker/bit_rate_search.h"
#include "core/item/result.h"

namespace sumplog {

/// What a CAN controller says of itself. What it does not say is absent.
struct LinkDetails {
  std::optional<std::uint32_t> bit_rate;  ///< nothing: never set, or a link without one (vcan)
  std::optional<double> sample_point;     ///< share of the bit, 0…1
  bool listen_only = false;
  bool echo_acknowledges = false;  ///< an own frame comes back when it was sent, not before (IFF_ECHO)
  std::string state;               ///< "error-active", "error-passive", "bus-off", "stopped", …
  std::optional<std::uint32_t> send_errors;  ///< error counters of ISO 11898-1
  std::optional<std::uint32_t> receive_errors;
  std::optional<std::uint32_t> bus_errors;  ///< since the driver was loaded, and so on
  std::optional<std::uint32_t> bus_offs;
  std::optional<std::uint32_t> restarts;
  bool restarts_itself = false;        ///< after bus-off (restart-ms)
  std::optional<std::uint32_t> modes;  ///< CAN_CTRLMODE_* that it can; only newer kernels (5.18) tell
};

/// Asks the kernel; all absent for an interface that is none. src  rtnetlink(7); linux/can/netlink.h
[[nodiscard]] LinkDetails link_details(const std::string& interface);

/// One line for a person: "500 kbit/s, sample point 87.5 %, error-active, 0 send and 0 receive errors".
[[nodiscard]] std::string text_of(const LinkDetails& details);

/// True when this process may change links (CAP_NET_ADMIN).
[[nodiscard]] bool may_set_links();

/// Takes the link down, sets it, takes it up (libsocketcan).
/// in   sample_point  share of the bit; nothing: the kernel's own
/// err  no right to do so (with what an administrator must type) · no bit rate in this controller ·
///      it cannot listen without disturbing
[[nodiscard]] Result<void> set_up_link(const std::string& interface, const LinkOrder& order,
                                       std::optional<double> sample_point = std::nullopt);

/// Down and up again: ends bus-off. err  as set_up_link
[[nodiscard]] Result<void> restart_link(const std::string& interface);

/// What an administrator must type to set up a link.
[[nodiscard]] std::string setup_line(const std::string& interface, std::uint32_t bit_rate);

}  // namespace sumplog
