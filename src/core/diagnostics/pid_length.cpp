#include "core/diagnostics/pid_length.h"

#include <array>

namespace sumplog {
namespace {

constexpr std::array<std::uint8_t, 0x70> kLength{
    // 0 1 2  3  4  5  6  7  8  9  A  B  C  D  E  F
    4, 4, 2, 2, 1, 1, 1, 1, 1, 1, 1, 1, 2, 1, 1, 1,  // 00
    2, 1, 1, 1, 2, 2, 2, 2, 2, 2, 2, 2, 1, 1, 1, 2,  // 10
    4, 2, 2, 2, 4, 4, 4, 4, 4, 4, 4, 4, 1, 1, 1, 1,  // 20
    1, 2, 2, 1, 4, 4, 4, 4, 4, 4, 4, 4, 2, 2, 2, 2,  // 30
    4, 4, 2, 2, 2, 1, 1, 1, 1, 1, 1, 1, 1, 2, 2, 4,  // 40
    4, 1, 1, 2, 2, 2, 2, 2, 2, 2, 1, 1, 1, 2, 2, 1,  // 50
    4, 1, 1, 2, 5, 2, 5, 3, 7, 7, 5, 5, 5, 6, 5, 3,  // 60
};

}  // namespace

std::optional<std::size_t> pid_length(std::uint8_t pid) {
  if (pid < kLength.size()) return kLength[pid];
  constexpr std::uint8_t kActualGear = 0xA4;
  constexpr std::uint8_t kOdometer = 0xA6;
  const bool bitmap = pid % 0x20 == 0;  // 80, A0, C0, E0: which of the next 32 are supported
  if (bitmap || pid == kActualGear || pid == kOdometer) return 4;
  return std::nullopt;
}

}  // namespace sumplog
