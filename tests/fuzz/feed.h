#pragma once
#include <algorithm>
#include <cstddef>
#include <string>

#include "fuzz/target.h"

namespace sumplog::fuzz {

/// Takes values off the front of an input; behind its end everything is zero.
class Feed {
 public:
  explicit Feed(Bytes bytes) : rest_(bytes) {}
  [[nodiscard]] bool empty() const { return rest_.empty(); }
  std::uint8_t byte() {
    if (rest_.empty()) return 0;
    const std::uint8_t first = rest_[0];
    rest_ = rest_.subspan(1);
    return first;
  }
  std::uint32_t number(int bytes) {
    std::uint32_t value = 0;
    for (int i = 0; i < bytes; ++i) value = value << 8 | byte();
    return value;
  }
  std::size_t below(std::size_t n) { return byte() % n; }
  Bytes bytes(std::size_t n) {
    const Bytes taken = rest_.first(std::min(n, rest_.size()));
    rest_ = rest_.subspan(taken.size());
    return taken;
  }
  std::string text(std::size_t n) { return std::string(text_of(bytes(n))); }
  Bytes rest() { return bytes(rest_.size()); }

 private:
  Bytes rest_;
};

}  // namespace sumplog::fuzz
