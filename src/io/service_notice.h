#pragma once
#include <chrono>
#include <optional>
#include <string>
#include <string_view>

#include "io/file_descriptor.h"

namespace sumplog {

/// What the program tells the service manager that started it: one datagram a notice. Without a manager nothing is sent.
/// src  sd_notify(3), sd_watchdog_enabled(3)
class ServiceNotice {
 public:
  /// Reads NOTIFY_SOCKET, WATCHDOG_USEC and WATCHDOG_PID. Only AF_UNIX sockets are known; others are as if unset.
  [[nodiscard]] static ServiceNotice from_environment();

  /// True when somebody listens.
  explicit operator bool() const { return static_cast<bool>(socket_); }
  /// The manager ends a program that is silent for so long; nothing: it does not watch.
  [[nodiscard]] std::optional<std::chrono::microseconds> patience() const { return patience_; }

  void ready() const { send("READY=1"); }
  void stopping() const { send("STOPPING=1"); }
  void alive() const { send("WATCHDOG=1"); }
  /// One line for a person. What a line cannot hold becomes a blank: a line break would begin another notice.
  void status(std::string_view text) const;

 private:
  void send(std::string_view text) const;

  FileDescriptor socket_;  ///< connected; empty: nobody listens
  std::optional<std::chrono::microseconds> patience_;
};

}  // namespace sumplog
