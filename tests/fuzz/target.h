#pragma once
#include <cstdint>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace sumplog::fuzz {

using Bytes = std::span<const std::uint8_t>;

/// One way into the program, as an ordinary function: libFuzzer calls it with bytes of its own, the default tests with the
/// seeds and with every input that was once a finding.
struct Target {
  std::string_view name;
  void (*take)(Bytes);
};

/// Makes a target known; one stands in each *_target.cpp.
class Registered {
 public:
  Registered(std::string_view name, void (*take)(Bytes));
};
/// All that were linked, by name.
[[nodiscard]] std::vector<Target> targets();

/// What must hold for every input. It throws when it does not: libFuzzer sees a crash, gtest a failed test.
void require(bool holds, std::string_view what);
void require_same(const std::string& one, const std::string& other, std::string_view what);

[[nodiscard]] inline std::string_view text_of(Bytes bytes) {
  return {reinterpret_cast<const char*>(bytes.data()), bytes.size()};
}

}  // namespace sumplog::fuzz
