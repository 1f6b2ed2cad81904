#pragma once
#include <string>
#include <vector>

#include "core/item/item.h"
#include "core/item/result.h"
#include "io/file_descriptor.h"

namespace sumplog {

/// The kind that the kernel gives an interface: "vcan", "vxcan", "can", "" when it has none.
/// err  no such interface · the kernel does not answer
/// src  rtnetlink(7), IFLA_INFO_KIND
[[nodiscard]] Result<std::string> interface_kind(const std::string& interface);

/// Names of all CAN interfaces of this computer, sorted, whatever their state.
/// src  /sys/class/net/*/type, 280 is ARPHRD_CAN (linux/if_arp.h)
[[nodiscard]] std::vector<std::string> can_interfaces();

/// Serial ports at which an adapter may hang, sorted: /dev/ttyACM*, /dev/ttyUSB*.
[[nodiscard]] std::vector<std::string> serial_ports();

/// The state of an interface now: up, down or gone.
[[nodiscard]] LinkState interface_state(const std::string& interface);

/// Hears when one interface goes up, down, vanishes or comes back. It begins with "up": open it before the socket, which
/// refuses an interface that is not; then no change between the two is missed.
/// src  rtnetlink(7), RTMGRP_LINK
class LinkWatch {
 public:
  [[nodiscard]] static Result<LinkWatch> open(const std::string& interface);
  [[nodiscard]] int descriptor() const { return socket_.get(); }
  /// Changes since the last call, in order; the same state is not told twice.
  [[nodiscard]] std::vector<LinkState> take();

 private:
  LinkWatch() = default;
  FileDescriptor socket_;
  std::string interface_;
  LinkState state_ = LinkState::up;
};

}  // namespace sumplog
