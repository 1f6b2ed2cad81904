#include "core/capture/bus_names.h"

#include <algorithm>

namespace sumplog {

BusName BusNames::bus_of(std::string_view name) {
  if (const auto found = known_.find(name); found != known_.end()) return found->second;
  std::string plain(name.empty() ? std::string_view("can") : name.substr(0, BusName::kMaxLength));
  for (char& c : plain) {
    if (c <= ' ' || c > '~') c = '_';
  }
  const auto taken = [&](const BusName& bus) {
    return std::any_of(known_.begin(), known_.end(), [&](const auto& pair) { return pair.second == bus; });
  };
  BusName bus(plain);
  for (int n = 2; taken(bus); ++n) {
    const std::string suffix = "~" + std::to_string(n);
    bus = BusName(plain.substr(0, BusName::kMaxLength - suffix.size()) + suffix);
  }
  known_.emplace(name, bus);
  return bus;
}

}  // namespace sumplog
