#include "io/own_addresses.h"

#include <arpa/inet.h>
#include <ifaddrs.h>
#include <net/if.h>
#include <netinet/in.h>

namespace sumplog {

std::vector<std::string> own_addresses() {
  ifaddrs* list = nullptr;
  if (::getifaddrs(&list) != 0) return {};
  std::vector<std::string> v4;
  std::vector<std::string> v6;
  for (const ifaddrs* one = list; one != nullptr; one = one->ifa_next) {
    if (one->ifa_addr == nullptr || (one->ifa_flags & IFF_UP) == 0 || (one->ifa_flags & IFF_LOOPBACK) != 0)
      continue;
    char text[INET6_ADDRSTRLEN] = {};
    if (one->ifa_addr->sa_family == AF_INET) {
      const auto* const address = reinterpret_cast<const sockaddr_in*>(one->ifa_addr);
      if (::inet_ntop(AF_INET, &address->sin_addr, text, sizeof text) != nullptr) v4.emplace_back(text);
    } else if (one->ifa_addr->sa_family == AF_INET6) {
      const auto* const address = reinterpret_cast<const sockaddr_in6*>(one->ifa_addr);
      if (IN6_IS_ADDR_LINKLOCAL(&address->sin6_addr)) continue;
      if (::inet_ntop(AF_INET6, &address->sin6_addr, text, sizeof text) != nullptr)
        v6.push_back("[" + std::string(text) + "]");
    }
  }
  ::freeifaddrs(list);
  v4.insert(v4.end(), v6.begin(), v6.end());
  return v4;
}

}  // namespace sumplog
