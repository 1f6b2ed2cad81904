#include "io/netlink.h"

#include <net/if.h>
#include <sys/socket.h>

#include <cerrno>
#include <cstring>

namespace sumplog {
namespace {

constexpr std::size_t kBuffer = 32768;  // netlink(7) asks for at least 8192

}  // namespace

Result<FileDescriptor> open_netlink(unsigned groups, const std::string& interface) {
  FileDescriptor fd(
      ::socket(AF_NETLINK, SOCK_RAW | SOCK_CLOEXEC | (groups != 0 ? SOCK_NONBLOCK : 0), NETLINK_ROUTE));
  sockaddr_nl address{};
  address.nl_family = AF_NETLINK;
  address.nl_groups = groups;
  if (fd.get() < 0 || bind(fd.get(), reinterpret_cast<const sockaddr*>(&address), sizeof address) != 0)
    return fault(std::string("the kernel's link events cannot be heard: ") + std::strerror(errno), interface);
  return fd;
}

Result<std::vector<char>> describe_link(const std::string& interface) {
  const unsigned index = if_nametoindex(interface.c_str());
  if (index == 0) return fault("no such interface", interface, "'ip link' lists those that there are");
  auto fd = open_netlink(0, interface);
  if (!fd) return tl::unexpected(fd.error());
  struct {
    nlmsghdr header;
    ifinfomsg info;
  } request{};
  request.header.nlmsg_len = NLMSG_LENGTH(sizeof request.info);
  request.header.nlmsg_type = RTM_GETLINK;
  request.header.nlmsg_flags = NLM_F_REQUEST;
  request.info.ifi_index = static_cast<int>(index);
  std::vector<char> answer(kBuffer);
  ssize_t n = ::send(fd->get(), &request, request.header.nlmsg_len, 0);
  if (n >= 0) n = recv(fd->get(), answer.data(), answer.size(), 0);
  if (n < 0)
    return fault(std::string("the kernel does not describe this link: ") + std::strerror(errno), interface);
  const auto* const header = reinterpret_cast<const nlmsghdr*>(answer.data());
  if (!NLMSG_OK(header, static_cast<unsigned>(n)) || header->nlmsg_type != RTM_NEWLINK)
    return fault("the kernel does not describe this link", interface);
  answer.resize(header->nlmsg_len);
  return answer;
}

}  // namespace sumplog
