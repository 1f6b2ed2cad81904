#include "core/vehicle/virtual_bus.h"

#include <gtest/gtest.h>

#include <array>
#include <stdexcept>

namespace sumplog {
namespace {

using std::chrono::microseconds;
using std::chrono::milliseconds;

const BusName kBus{"can0"};
const TimePoint kStart = at_micros(1'000'000);

CanFrame frame_of(CanId id, std::size_t length, bool fd = false) {
  const std::vector<std::uint8_t> bytes(length, 0x55);
  CanFrame frame = data_frame({}, {}, id, bytes);
  frame.fd = frame.bit_rate_switch = fd;
  return frame;
}

TEST(WireTime, ClassicFrameTakesItsBitsAtTheBitRate) {
  // ISO 11898-1: 44 + 8 n bits for a data frame with an 11-bit identifier, 64 + 8 n with 29 bits, 3 of inter-frame space.
  // Linux linux/can/length.h (CAN_FRAME_OVERHEAD_SFF 47 bits, _EFF 67 bits, both without stuffing) has the same sums.
  const BitRates rates{500'000, 2'000'000};
  EXPECT_EQ(wire_time(frame_of(standard_id(0x7E8), 8), rates), microseconds(222));
  EXPECT_EQ(wire_time(frame_of(extended_id(0x18DAF110), 8), rates), microseconds(262));
  EXPECT_EQ(wire_time(frame_of(standard_id(0x7E8), 0), rates), microseconds(94));
  EXPECT_EQ(wire_time(frame_of(standard_id(0x7E8), 8), {250'000, 2'000'000}), microseconds(444));
}

TEST(WireTime, RemoteFrameCarriesNoData) {
  CanFrame remote = frame_of(standard_id(0x123), 8);
  remote.kind = FrameKind::remote;
  EXPECT_EQ(wire_time(remote, {500'000, 2'000'000}), microseconds(94));
}

TEST(WireTime, FdFrameSendsItsDataAtTheDataRate) {
  // 30 bits at 500 kbit/s; 9 bits, 64 bytes and 28 bits of CRC at 2 Mbit/s: 60 µs + 274.5 µs.
  EXPECT_EQ(wire_time(frame_of(standard_id(0x7E8), 64, true), {500'000, 2'000'000}), microseconds(334));
  CanFrame slow = frame_of(standard_id(0x7E8), 64, true);
  slow.bit_rate_switch = false;
  EXPECT_EQ(wire_time(slow, {500'000, 2'000'000}), microseconds(60 + 1098));
}

TEST(WireTime, ALongIdentifierOfAnFdFrameTakesNineteenBitsMore) {
  // ISO 11898-1: SRR, IDE and 18 bits more, one of RRS less; at 500 kbit/s 38 µs.
  const BitRates rates{500'000, 2'000'000};
  EXPECT_EQ(wire_time(frame_of(extended_id(0x18DAF110), 64, true), rates) -
                wire_time(frame_of(standard_id(0x7E8), 64, true), rates),
            microseconds(38));
}

TEST(Arbitration, LowerIdentifierWinsAndElevenBitsWinOverTwentyNine) {
  EXPECT_TRUE(wins_arbitration(frame_of(standard_id(0x7E8), 8), frame_of(standard_id(0x7E9), 8)));
  EXPECT_FALSE(wins_arbitration(frame_of(standard_id(0x7E9), 8), frame_of(standard_id(0x7E8), 8)));
  // 18DAF110 begins with the 11 bits 636; 636 as a standard identifier has its dominant IDE bit after them.
  EXPECT_TRUE(wins_arbitration(frame_of(standard_id(0x636), 8), frame_of(extended_id(0x18DAF110), 8)));
  EXPECT_TRUE(wins_arbitration(frame_of(extended_id(0x18DAF110), 8), frame_of(standard_id(0x637), 8)));
  EXPECT_TRUE(wins_arbitration(frame_of(extended_id(0x18DAF110), 8), frame_of(extended_id(0x18DAF118), 8)));
  CanFrame remote = frame_of(standard_id(0x100), 0);
  remote.kind = FrameKind::remote;
  EXPECT_TRUE(wins_arbitration(frame_of(standard_id(0x100), 0), remote));
}

class Bus : public testing::Test {
 protected:
  Bus() : bus(kBus, {}, kStart) {
    bus.attach(first);
    bus.attach(second);
  }
  VirtualBus bus;
  BusPort first;
  BusPort second;
};

TEST_F(Bus, EveryNodeHearsAFrameAtTheEndOfItsLastBitTheSenderToo) {
  first.send(frame_of(standard_id(0x7DF), 8));
  bus.run_until(kStart + milliseconds(1));
  const auto echo = first.take_heard();
  const auto heard = second.take_heard();
  ASSERT_EQ(echo.size(), 1U);
  ASSERT_EQ(heard.size(), 1U);
  EXPECT_EQ(heard[0].at, kStart + microseconds(222));
  EXPECT_EQ(heard[0].bus, kBus);
  EXPECT_EQ(echo[0], heard[0]);
}

TEST_F(Bus, LowerIdentifierGoesFirstWhenTwoAreReady) {
  first.send(frame_of(standard_id(0x7E9), 8));
  second.send(frame_of(standard_id(0x7E8), 8));
  bus.run_until(kStart + milliseconds(1));
  const auto frames = bus.take_frames();
  ASSERT_EQ(frames.size(), 2U);
  EXPECT_EQ(frames[0].id, standard_id(0x7E8));
  EXPECT_EQ(frames[1].id, standard_id(0x7E9));
  EXPECT_EQ(frames[1].at - frames[0].at, microseconds(222));
}

TEST_F(Bus, AFrameOnTheWireIsNotInterrupted) {
  first.send(frame_of(standard_id(0x7E9), 8));
  bus.run_until(kStart + microseconds(100));
  second.send(frame_of(standard_id(0x001), 8));
  bus.run_until(kStart + milliseconds(1));
  const auto frames = bus.take_frames();
  ASSERT_EQ(frames.size(), 2U);
  EXPECT_EQ(frames[0].id, standard_id(0x7E9));
}

TEST_F(Bus, FramesOfOneIdentifierKeepTheirOrder) {
  for (std::uint8_t i = 0; i < 5; ++i) {
    CanFrame frame = frame_of(standard_id(0x7E8), 1);
    frame.bytes[0] = i;
    first.send(frame);
  }
  bus.run_until(kStart + milliseconds(5));
  const auto frames = bus.take_frames();
  ASSERT_EQ(frames.size(), 5U);
  for (std::uint8_t i = 0; i < 5; ++i) EXPECT_EQ(frames[i].bytes[0], i);
}

TEST_F(Bus, ANodeThatIsUnpluggedHearsNothingAndWhatItSendsIsLost) {
  bus.set_connected(second, false);
  first.send(frame_of(standard_id(0x100), 1));
  second.send(frame_of(standard_id(0x200), 1));
  bus.run_until(kStart + milliseconds(1));
  EXPECT_TRUE(second.take_heard().empty());
  EXPECT_EQ(bus.take_frames().size(), 1U);
  bus.set_connected(second, true);
  first.send(frame_of(standard_id(0x100), 1));
  bus.run_until(kStart + milliseconds(2));
  EXPECT_EQ(second.take_heard().size(), 1U);
}

TEST_F(Bus, WhatWaitsAtANodeIsLostWhenItIsUnplugged) {
  first.send(frame_of(standard_id(0x100), 8));
  second.send(frame_of(standard_id(0x200), 8));
  bus.run_until(kStart + microseconds(100));  // 100 is on the wire, 200 waits
  bus.set_connected(second, false);
  bus.run_until(kStart + milliseconds(1));
  EXPECT_EQ(bus.take_frames().size(), 1U);
}

TEST_F(Bus, SilentBusGoesStraightToTheEnd) {
  EXPECT_FALSE(bus.next_event());
  bus.run_until(kStart + std::chrono::hours(1));
  EXPECT_EQ(bus.now(), kStart + std::chrono::hours(1));
}

class Stubborn : public BusPort {
 public:
  [[nodiscard]] std::optional<TimePoint> deadline() const override { return kStart; }
};

TEST(VirtualBus, NodeThatNeverLetsTimeGoOnIsABugAndIsSaid) {
  VirtualBus bus(kBus, {}, kStart);
  Stubborn node;
  bus.attach(node);
  EXPECT_THROW(bus.run_until(kStart + milliseconds(1)), std::logic_error);
}

}  // namespace
}  // namespace sumplog
