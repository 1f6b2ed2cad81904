#include "io/can_link.h"

#include <net/if.h>
#include <net/if_arp.h>
#include <sys/ioctl.h>
#include <sys/socket.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <optional>

#include "io/netlink.h"

namespace fs = std::filesystem;

namespace sumplog {
namespace {

constexpr std::size_t kBuffer = 32768;  // netlink(7) asks for at least 8192

std::string text_of(const rtattr& attribute) {
  const auto* const bytes = static_cast<const char*>(RTA_DATA(&attribute));
  return {bytes, strnlen(bytes, static_cast<std::size_t>(RTA_PAYLOAD(&attribute)))};
}

struct LinkNews {
  std::string name;
  std::string kind;
  bool gone = false;
  bool up = false;
};

std::optional<LinkNews> read_link(const nlmsghdr& header) {
  if (header.nlmsg_type != RTM_NEWLINK && header.nlmsg_type != RTM_DELLINK) return std::nullopt;
  const auto* const info = static_cast<const ifinfomsg*>(NLMSG_DATA(&header));
  LinkNews news;
  news.gone = header.nlmsg_type == RTM_DELLINK;
  news.up = (info->ifi_flags & IFF_UP) != 0;
  for_attributes(IFLA_RTA(info), static_cast<int>(IFLA_PAYLOAD(&header)), [&](const rtattr& a) {
    if (a.rta_type == IFLA_IFNAME) news.name = text_of(a);
    if ((a.rta_type & NLA_TYPE_MASK) == IFLA_LINKINFO)
      for_attributes_of(a, [&](const rtattr& inner) {
        if (inner.rta_type == IFLA_INFO_KIND) news.kind = text_of(inner);
      });
  });
  return news;
}

}  // namespace

Result<std::string> interface_kind(const std::string& interface) {
  const auto message = describe_link(interface);
  if (!message) return tl::unexpected(message.error());
  const auto news = read_link(*reinterpret_cast<const nlmsghdr*>(message->data()));
  return news ? news->kind : std::string();
}

std::vector<std::string> can_interfaces() {
  std::vector<std::string> names;
  std::error_code error;
  for (fs::directory_iterator at("/sys/class/net", error), end; !error && at != end; at.increment(error)) {
    int type = 0;
    if (std::ifstream(at->path() / "type") >> type && type == ARPHRD_CAN)
      names.push_back(at->path().filename().string());
  }
  std::sort(names.begin(), names.end());
  return names;
}

std::vector<std::string> serial_ports() {
  std::vector<std::string> ports;
  std::error_code error;
  for (fs::directory_iterator at("/dev", error), end; !error && at != end; at.increment(error)) {
    const std::string name = at->path().filename().string();
    if (name.starts_with("ttyACM") || name.starts_with("ttyUSB")) ports.push_back(at->path().string());
  }
  std::sort(ports.begin(), ports.end());
  return ports;
}

LinkState interface_state(const std::string& interface) {
  ifreq request{};
  if (interface.size() >= sizeof request.ifr_name) return LinkState::gone;
  std::memcpy(request.ifr_name, interface.c_str(), interface.size());
  // Any socket can ask for the flags of an interface (netdevice(7)).
  const FileDescriptor any(::socket(AF_UNIX, SOCK_DGRAM | SOCK_CLOEXEC, 0));
  if (ioctl(any.get(), SIOCGIFFLAGS, &request) != 0) return LinkState::gone;
  return (request.ifr_flags & IFF_UP) != 0 ? LinkState::up : LinkState::down;
}

Result<LinkWatch> LinkWatch::open(const std::string& interface) {
  auto fd = open_netlink(RTMGRP_LINK, interface);
  if (!fd) return tl::unexpected(fd.error());
  LinkWatch watch;
  watch.socket_ = std::move(*fd);
  watch.interface_ = interface;
  return watch;
}

std::vector<LinkState> LinkWatch::take() {
  std::vector<LinkState> changes;
  const auto tell = [&](LinkState state) {
    if (state == state_) return;
    state_ = state;
    changes.push_back(state);
  };
  alignas(nlmsghdr) std::array<char, kBuffer> buffer;
  while (true) {
    const auto n = recv(socket_.get(), buffer.data(), buffer.size(), MSG_DONTWAIT);
    if (n < 0 && errno == EINTR) continue;
    if (n < 0 && errno == ENOBUFS) {
      tell(interface_state(interface_));  // events were lost: what counts is the state now
      continue;
    }
    if (n <= 0) return changes;
    auto left = static_cast<unsigned>(n);
    for (auto* h = reinterpret_cast<const nlmsghdr*>(buffer.data()); NLMSG_OK(h, left);
         h = NLMSG_NEXT(h, left)) {
      const auto news = read_link(*h);
      if (news && news->name == interface_)
        tell(news->gone ? LinkState::gone : news->up ? LinkState::up : LinkState::down);
    }
  }
}

}  // namespace sumplog
