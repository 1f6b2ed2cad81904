#pragma once
#include <gtest/gtest.h>

#include <optional>
#include <string>
#include <type_traits>
#include <vector>

#include "core/guard/guard.h"

namespace sumplog::guard_test {

using std::chrono::milliseconds;
using std::chrono::seconds;
using Bytes = std::vector<std::uint8_t>;

inline const BusName kBus{"can0"};

inline UnitAddress normal_pair(std::uint32_t request, std::uint32_t response) {
  return {standard_id(request), standard_id(response), AddressingMode::normal, std::nullopt, std::nullopt};
}
inline UnitAddress extended_pair(std::uint32_t request, std::uint8_t to, std::uint32_t response,
                                 std::uint8_t from) {
  return {standard_id(request), standard_id(response), AddressingMode::extended, to, from};
}

inline Endpoint at(CanId id, std::optional<std::uint8_t> address = std::nullopt) {
  return {kBus, id, address};
}

class GuardTest : public ::testing::Test {
 protected:
  GuardTest() : guard_(AddressBook{{normal_pair(0x702, 0x70A), extended_pair(0x6F1, 0x18, 0x618, 0xF1)}}) {}

  void wait(Duration d) { now_ += d; }

  Result<GuardedFrame, GuardRefusal> build(const Endpoint& to, const Bytes& payload) {
    return guard_.build(Request{to, payload}, now_);
  }
  /// Builds the request and lets the bus give it back.
  void ask(const Endpoint& to, const Bytes& payload) {
    const auto built = build(to, payload);
    ASSERT_TRUE(built.has_value()) << text_of(built.error());
    wait(milliseconds{1});
    auto echo = built->frame();
    echo.at = now_;
    guard_.on_frame(echo);
  }
  void hear(CanId id, const Bytes& bytes) { guard_.on_frame(data_frame(now_, kBus, id, bytes)); }
  Result<GuardedFrame, GuardRefusal> flow(CanId id, const Bytes& bytes) {
    return guard_.build_flow_control(data_frame(now_, kBus, id, bytes), now_);
  }
  static Bytes bytes_of(const Result<GuardedFrame, GuardRefusal>& built) {
    if (!built) return {};
    const auto data = built->frame().data();
    return {data.begin(), data.end()};
  }

  TimePoint now_ = at_micros(1'700'000'000'000'000);
  Guard guard_;
};

#define EXPECT_REFUSED(result, reason)                \
  do {                                                \
    const auto outcome = (result);                    \
    ASSERT_FALSE(outcome.has_value());                \
    EXPECT_EQ(outcome.error(), GuardRefusal::reason); \
  } while (false)

inline const Bytes kReadDid{0x22, 0xF1, 0x90};
inline const Bytes kGoOn{0x30, 0x00, 0x00};
// ISO 15765-2 first frame of 20 bytes: the beginning of a positive answer to 22 F1 90.
inline const Bytes kFirstFrame{0x10, 0x14, 0x62, 0xF1, 0x90, 0x31, 0x32, 0x33};

}  // namespace sumplog::guard_test
