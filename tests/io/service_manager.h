#pragma once
#include <gtest/gtest.h>
#include <sys/socket.h>
#include <sys/un.h>

#include <cstddef>
#include <cstdlib>
#include <cstring>
#include <string>
#include <vector>

#include "io/file_descriptor.h"

namespace sumplog {

/// Plays the service manager: the receiver behind NOTIFY_SOCKET, as long as it lives.
class ServiceManager {
 public:
  /// in   name  a path, or an abstract name with '@' before it
  explicit ServiceManager(const std::string& name)
      : socket_(::socket(AF_UNIX, SOCK_DGRAM | SOCK_CLOEXEC, 0)) {
    sockaddr_un address{};
    address.sun_family = AF_UNIX;
    std::memcpy(address.sun_path, name.data(), name.size());
    if (name.front() == '@') address.sun_path[0] = '\0';
    const auto length = static_cast<socklen_t>(offsetof(sockaddr_un, sun_path) + name.size());
    if (::bind(socket_.get(), reinterpret_cast<const sockaddr*>(&address), length) != 0)
      ADD_FAILURE() << name << ": " << std::strerror(errno);
    setenv("NOTIFY_SOCKET", name.c_str(), 1);
  }
  ~ServiceManager() {
    for (const char* const name : {"NOTIFY_SOCKET", "WATCHDOG_USEC", "WATCHDOG_PID"}) unsetenv(name);
  }
  ServiceManager(const ServiceManager&) = delete;
  ServiceManager& operator=(const ServiceManager&) = delete;

  /// Everything that came since the last call.
  std::vector<std::string> heard() {
    std::vector<std::string> all;
    char text[4096];
    while (true) {
      const auto n = ::recv(socket_.get(), text, sizeof text, MSG_DONTWAIT);
      if (n < 0) return all;
      all.emplace_back(text, static_cast<std::size_t>(n));
    }
  }

 private:
  FileDescriptor socket_;
};

}  // namespace sumplog
