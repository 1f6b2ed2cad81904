#pragma once
#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>

namespace sumplog {

/// Bytes of a binary capture that were given and not yet used. What is to be skipped is never held.
class ByteQueue {
 public:
  void on_bytes(std::string_view bytes) {
    bytes_.erase(0, used_);
    used_ = 0;
    const auto skipped = static_cast<std::size_t>(std::min<std::uint64_t>(owed_, bytes.size()));
    owed_ -= skipped;
    passed_ += skipped;
    bytes_ += bytes.substr(skipped);
  }
  [[nodiscard]] std::string_view view() const { return std::string_view(bytes_).substr(used_); }
  /// Lets go of bytes that are in view.
  void drop(std::size_t count) { used_ += std::min(count, bytes_.size() - used_); }

  /// Passes over `count` bytes, those that have not come yet too.
  void skip(std::uint64_t count) {
    const auto here = static_cast<std::size_t>(std::min<std::uint64_t>(count, bytes_.size() - used_));
    used_ += here;
    owed_ = count - here;
    passed_ = here;
  }
  /// Whether a skip still waits for bytes.
  [[nodiscard]] bool skipping() const { return owed_ > 0; }
  /// Bytes passed over by the skip that goes on or was last ended; 0 after end_skip().
  [[nodiscard]] std::uint64_t passed() const { return passed_; }
  void end_skip() { passed_ = 0; }

 private:
  std::string bytes_;
  std::size_t used_ = 0;
  std::uint64_t owed_ = 0;
  std::uint64_t passed_ = 0;
};

}  // namespace sumplog
