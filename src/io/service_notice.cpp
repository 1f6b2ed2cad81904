#include "io/service_notice.h"

#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#include <charconv>
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <cstring>

namespace sumplog {
namespace {

std::optional<std::int64_t> whole(const char* text) {
  if (text == nullptr) return std::nullopt;
  const char* const end = text + std::strlen(text);
  std::int64_t value = 0;
  const auto [stop, error] = std::from_chars(text, end, value);
  if (error != std::errc{} || stop != end) return std::nullopt;
  return value;
}

/// Connected to a socket in the file system, or to one in the abstract space ('@').
FileDescriptor connect_to(std::string_view name) {
  sockaddr_un address{};
  address.sun_family = AF_UNIX;
  const bool known = name.size() > 1 && (name.front() == '/' || name.front() == '@');
  if (!known || name.size() >= sizeof address.sun_path) return {};
  std::memcpy(address.sun_path, name.data(), name.size());
  if (name.front() == '@') address.sun_path[0] = '\0';
  FileDescriptor socket(::socket(AF_UNIX, SOCK_DGRAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0));
  // Of an abstract name every byte counts: its length ends it, not a zero.
  const auto length = static_cast<socklen_t>(offsetof(sockaddr_un, sun_path) + name.size());
  if (!socket || ::connect(socket.get(), reinterpret_cast<const sockaddr*>(&address), length) != 0) return {};
  return socket;
}

}  // namespace

ServiceNotice ServiceNotice::from_environment() {
  ServiceNotice notice;
  if (const char* const name = std::getenv("NOTIFY_SOCKET")) notice.socket_ = connect_to(name);
  const auto patience = whole(std::getenv("WATCHDOG_USEC"));
  const char* const watched = std::getenv("WATCHDOG_PID");
  const bool ours = watched == nullptr || whole(watched) == ::getpid();
  if (notice && ours && patience && *patience > 0) notice.patience_ = std::chrono::microseconds(*patience);
  return notice;
}

void ServiceNotice::status(std::string_view text) const {
  std::string line = "STATUS=";
  for (const char c : text) line += static_cast<unsigned char>(c) < ' ' ? ' ' : c;
  send(line);
}

/// A manager that does not take it has no claim on our time: nothing is tried again.
void ServiceNotice::send(std::string_view text) const {
  if (socket_) (void)::send(socket_.get(), text.data(), text.size(), MSG_NOSIGNAL);
}

}  // namespace sumplog
