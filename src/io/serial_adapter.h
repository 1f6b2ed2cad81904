#pragma once
#include <string>

#include "core/item/result.h"
#include "io/file_descriptor.h"

namespace sumplog {

/// A CAN adapter at a serial port, given to the kernel's slcan driver: from then on it is a CAN interface like
/// every other, as long as this object lives.
/// src  Linux drivers/net/can/slcan; ioctl_tty(2) TIOCSETD
class SerialAdapter {
 public:
  /// True for what names a serial port instead of an interface: "/dev/ttyACM0".
  [[nodiscard]] static bool names_port(const std::string& interface);

  /// The interface is down and has no bit rate yet.
  /// err  no such port · busy · no right to attach it (with what an administrator must type) · no driver
  [[nodiscard]] static Result<SerialAdapter> attach(const std::string& port);

  [[nodiscard]] const std::string& interface() const { return interface_; }

 private:
  SerialAdapter() = default;
  FileDescriptor port_;
  std::string interface_;
};

}  // namespace sumplog
