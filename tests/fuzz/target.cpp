#include "fuzz/target.h"

#include <algorithm>
#include <stdexcept>

namespace sumplog::fuzz {
namespace {

std::vector<Target>& registered() {
  static std::vector<Target> all;
  return all;
}

}  // namespace

Registered::Registered(std::string_view name, void (*take)(Bytes)) {
  registered().push_back({name, take});
}

std::vector<Target> targets() {
  auto all = registered();
  std::sort(all.begin(), all.end(), [](const Target& a, const Target& b) { return a.name < b.name; });
  return all;
}

void require(bool holds, std::string_view what) {
  if (!holds) throw std::logic_error(std::string(what));
}

void require_same(const std::string& one, const std::string& other, std::string_view what) {
  if (one != other) throw std::logic_error(std::string(what) + ":\n  " + one + "\n  " + other);
}

}  // namespace sumplog::fuzz
