#pragma once
#include <string>
#include <vector>

namespace sumplog {

/// Addresses under which others in the network reach this computer: of interfaces that are up, IPv4 first, no loopback, no
/// link-local ones. src  getifaddrs(3)
[[nodiscard]] std::vector<std::string> own_addresses();

}  // namespace sumplog
