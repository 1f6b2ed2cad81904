// Socket, link and job time on a kernel with CAN. Where the kernel has none (most machines) all of them are skipped;
// on_a_can_kernel.sh runs them in user-mode Linux, as root, with vcan0 up, and insists that none is skipped.
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

#include <cstdlib>
#include <ctime>

#include "io/can_link.h"
#include "io/can_socket.h"
#include "io/job_time.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using Bytes = std::vector<std::uint8_t>;

const std::string kInterface = "vcan0";

void shell(const std::string& command) {
  ASSERT_EQ(std::system(command.c_str()), 0) << command;
}

/// Waits until the descriptor is readable; false after a minute, which a loaded machine may need.
bool readable(int descriptor) {
  pollfd one{descriptor, POLLIN, 0};
  return poll(&one, 1, 60000) == 1;
}

class CanKernelTest : public ::testing::Test {
 protected:
  void SetUp() override {
    // Set by on_a_can_kernel.sh alone: these tests take interfaces down and set the clock.
    if (std::getenv("SUMPLOG_CAN_KERNEL") == nullptr) GTEST_SKIP() << "not in the lab";
    if (interface_state(kInterface) == LinkState::gone) shell("ip link add vcan0 type vcan");
    if (interface_state(kInterface) != LinkState::up) shell("ip link set vcan0 up");
    auto started = JobTime::start();
    ASSERT_TRUE(started) << started.error().text();
    time.emplace(std::move(*started));
    auto opened = CanSocket::open(kInterface);
    ASSERT_TRUE(opened) << opened.error().text();
    tester.emplace(std::move(*opened));
    auto other = VehicleSocket::open(kInterface);
    ASSERT_TRUE(other) << other.error().text();
    vehicle.emplace(std::move(*other));
    ReceivedFrames
        none;  // as the daemon does when it starts: from here on it is known since when frames may have waited
    ASSERT_TRUE(tester->receive(*time, none));
  }

  void vehicle_sends(CanId id, const Bytes& bytes) {
    const auto sent = vehicle->send(data_frame({}, {}, id, bytes));
    ASSERT_TRUE(sent) << sent.error().text();
  }
  std::vector<CanFrame> heard() {
    ReceivedFrames received;
    EXPECT_TRUE(readable(tester->descriptor()));
    const auto ok = tester->receive(*time, received);
    EXPECT_TRUE(ok) << ok.error().text();
    dropped += received.dropped;
    return received.frames;
  }

  std::optional<JobTime> time;
  std::optional<CanSocket> tester;
  std::optional<VehicleSocket> vehicle;
  std::uint64_t dropped = 0;
};

TEST_F(CanKernelTest, HearsOtherFramesAsTheyWere) {
  vehicle_sends(standard_id(0x7E9), {0x03, 0x41, 0x0C, 0x1A});
  vehicle_sends(extended_id(0x18DAF118), {});
  CanFrame remote;
  remote.id = standard_id(0x123);
  remote.kind = FrameKind::remote;
  remote.length = 5;
  ASSERT_TRUE(vehicle->send(remote));
  CanFrame fd = data_frame({}, {}, standard_id(0x7E8), Bytes(64, 0xA5));
  fd.fd = true;
  fd.bit_rate_switch = true;
  ASSERT_TRUE(vehicle->send(fd));
  auto frames = heard();
  ASSERT_EQ(frames.size(), 4U);
  for (CanFrame& frame : frames) {
    EXPECT_EQ(frame.bus.text(), kInterface);
    frame.bus = {};
    frame.at = {};
  }
  EXPECT_EQ(frames[0], data_frame({}, {}, standard_id(0x7E9), Bytes{0x03, 0x41, 0x0C, 0x1A}));
  EXPECT_EQ(frames[1], data_frame({}, {}, extended_id(0x18DAF118), Bytes{}));
  EXPECT_EQ(frames[2], remote);
  EXPECT_EQ(frames[3], fd);
}

TEST_F(CanKernelTest, HearsTheEchoOfItsOwnFrame) {
  Guard guard{AddressBook{}};
  const auto built = guard.build(
      Request{{tester->bus(), standard_id(0x7E1), std::nullopt}, {0x22, 0x1A, 0x05}}, time->now());
  ASSERT_TRUE(built);
  ASSERT_TRUE(tester->send(*built));
  const auto frames = heard();
  ASSERT_EQ(frames.size(), 1U);
  guard.on_frame(frames[0]);
  EXPECT_FALSE(guard.other_tester_heard()) << "the echo is known as ours";
}

TEST_F(CanKernelTest, TheVehicleHearsTheTesterAndNotItself) {
  vehicle_sends(standard_id(0x7E9), {1});
  Guard guard{AddressBook{}};
  const auto built =
      guard.build(Request{{tester->bus(), standard_id(0x7E0), std::nullopt}, {0x01, 0x0C}}, time->now());
  ASSERT_TRUE(built);
  ASSERT_TRUE(tester->send(*built));
  ASSERT_TRUE(readable(vehicle->descriptor()));
  ReceivedFrames received;
  ASSERT_TRUE(vehicle->receive(*time, received));
  ASSERT_EQ(received.frames.size(), 1U);
  EXPECT_EQ(received.frames[0].id, standard_id(0x7E0));
}

TEST_F(CanKernelTest, HearsErrorFrames) {
  shell("cansend vcan0 20000040#0000000000000000");  // linux/can/error.h: CAN_ERR_BUSOFF
  const auto frames = heard();
  ASSERT_EQ(frames.size(), 1U);
  EXPECT_EQ(frames[0].kind, FrameKind::error);
  EXPECT_EQ(frames[0].id.value, 0x40U);
}

TEST_F(CanKernelTest, NothingWaitingIsNoFailure) {
  ReceivedFrames received;
  EXPECT_TRUE(tester->receive(*time, received));
  EXPECT_TRUE(received.frames.empty());
  EXPECT_EQ(received.dropped, 0U);
}

TEST_F(CanKernelTest, ReadsManyBatchesInOrderWithTheKernelsTimes) {
  constexpr std::uint32_t kMany = 500;
  const TimePoint before = time->now();
  for (std::uint32_t i = 0; i < kMany; ++i) vehicle_sends(standard_id(i), {});
  const TimePoint after = time->now();
  usleep(300000);
  const auto frames = heard();
  ASSERT_EQ(frames.size(), kMany);
  // The kernel's times are those of sending, not of reading 300 ms later; a third of that is left to a busy machine.
  EXPECT_GE(frames.front().at, before - 100ms);
  EXPECT_LE(frames.back().at, after + 100ms);
  for (std::uint32_t i = 0; i < kMany; ++i) {
    EXPECT_EQ(frames[i].id, standard_id(i));
    EXPECT_GE(frames[i].at, frames[i > 0 ? i - 1 : 0].at);
  }
}

TEST_F(CanKernelTest, HoldsFourMebibytesAndCountsEveryFrameThatTheKernelDropped) {
  int buffer = 0;
  socklen_t size = sizeof buffer;
  ASSERT_EQ(getsockopt(tester->descriptor(), SOL_SOCKET, SO_RCVBUF, &buffer, &size), 0);
  EXPECT_GE(buffer, 4 << 20);
  std::uint64_t sent = 0;
  std::uint64_t received_frames = 0;
  for (int round = 0; round < 2; ++round) {
    for (int i = 0; i < 15000; ++i, ++sent) vehicle_sends(standard_id(0x100), {1, 2, 3, 4, 5, 6, 7, 8});
    // Nothing is sent after this: the drops at the end must be told without another frame.
    ReceivedFrames received;
    ASSERT_TRUE(tester->receive(*time, received));
    received_frames += received.frames.size();
    dropped += received.dropped;
    EXPECT_EQ(received_frames + dropped, sent) << "round " << round;
  }
  EXPECT_GT(dropped, 0U);
}

TEST_F(CanKernelTest, SaysThatTheInterfaceIsDownAndGoesOnWhenItIsUpAgain) {
  auto watch = LinkWatch::open(kInterface);
  ASSERT_TRUE(watch);
  EXPECT_TRUE(watch->take().empty());
  shell("ip link set vcan0 down");
  EXPECT_EQ(interface_state(kInterface), LinkState::down);
  ASSERT_TRUE(readable(watch->descriptor()));
  EXPECT_THAT(watch->take(), ElementsAre(LinkState::down));
  ReceivedFrames received;
  const auto down = tester->receive(*time, received);
  ASSERT_FALSE(down);
  EXPECT_THAT(down.error().text(), HasSubstr("vcan0"));
  EXPECT_FALSE(CanSocket::open(kInterface));
  EXPECT_THAT(CanSocket::open(kInterface).error().text(), HasSubstr("the interface is down"));
  EXPECT_THAT(CanSocket::open(kInterface).error().way_out, HasSubstr("ip link set vcan0 up"));
  Guard guard{AddressBook{}};
  const auto built =
      guard.build(Request{{tester->bus(), standard_id(0x7E0), std::nullopt}, {0x01, 0x0C}}, time->now());
  EXPECT_FALSE(tester->send(*built));
  shell("ip link set vcan0 up");
  ASSERT_TRUE(readable(watch->descriptor()));
  EXPECT_THAT(watch->take(), ElementsAre(LinkState::up));
  // The same socket is good again.
  vehicle.emplace(std::move(*VehicleSocket::open(kInterface)));
  vehicle_sends(standard_id(0x7E8), {1});
  EXPECT_EQ(heard().size(), 1U);
}

TEST_F(CanKernelTest, HearsThatTheInterfaceVanishedAndCameBack) {
  auto watch = LinkWatch::open(kInterface);
  ASSERT_TRUE(watch);
  shell("ip link add vcan7 type vcan && ip link set vcan7 up && ip link del vcan7");  // somebody else's
  shell("ip link del vcan0");
  EXPECT_EQ(interface_state(kInterface), LinkState::gone);
  ASSERT_TRUE(readable(watch->descriptor()));
  const auto states = watch->take();
  ASSERT_FALSE(states.empty());
  EXPECT_EQ(states.back(), LinkState::gone);
  EXPECT_THAT(CanSocket::open(kInterface).error().text(), HasSubstr("no such interface"));
  ReceivedFrames received;
  EXPECT_FALSE(tester->receive(*time, received));
  shell("ip link add vcan0 type vcan && ip link set vcan0 up");
  ASSERT_TRUE(readable(watch->descriptor()));
  const auto back = watch->take();
  ASSERT_FALSE(back.empty());
  EXPECT_EQ(back.back(), LinkState::up);
  EXPECT_TRUE(CanSocket::open(kInterface));
}

TEST_F(CanKernelTest, TellsTheStateAfterMoreEventsThanTheKernelKeeps) {
  auto watch = LinkWatch::open(kInterface);
  ASSERT_TRUE(watch);
  // netlink(7): events are lost (ENOBUFS) when nobody reads; a small buffer makes that quick.
  const int small = 1;
  ASSERT_EQ(setsockopt(watch->descriptor(), SOL_SOCKET, SO_RCVBUF, &small, sizeof small), 0);
  shell("for i in 1 2 3 4 5; do ip link set vcan0 down; ip link set vcan0 up; done; ip link set vcan0 down");
  const auto states = watch->take();
  ASSERT_FALSE(states.empty());
  EXPECT_EQ(states.back(), LinkState::down);
  shell("ip link set vcan0 up");
}

TEST_F(CanKernelTest, KnowsTheKindOfAnInterface) {
  EXPECT_EQ(interface_kind(kInterface).value_or("?"), "vcan");
  EXPECT_EQ(interface_kind("lo").value_or("?"), "");
  EXPECT_FALSE(interface_kind("can99"));
}

TEST_F(CanKernelTest, TheVehicleOpensVirtualInterfacesOnly) {
  const auto refused = VehicleSocket::open("lo");
  ASSERT_FALSE(refused);
  EXPECT_THAT(refused.error().text(), HasSubstr("virtual"));
  EXPECT_FALSE(VehicleSocket::open("can99"));
}

TEST_F(CanKernelTest, SaysWhyAnInterfaceCannotBeOpened) {
  EXPECT_THAT(CanSocket::open("can99").error().text(), HasSubstr("can99: no such interface"));
  EXPECT_THAT(CanSocket::open("lo").error().text(), HasSubstr("not a CAN interface"));
  EXPECT_THAT(CanSocket::open("").error().text(), HasSubstr("not the name of an interface"));
  EXPECT_THAT(CanSocket::open("a-name-of-16-chr").error().text(), HasSubstr("not the name of an interface"));
}

/// Sets the wall clock of the guest, and puts it right again at the end.
class CanKernelClockTest : public CanKernelTest {
 protected:
  void move_clock(std::chrono::seconds by) {
    std::timespec now{};
    ASSERT_EQ(clock_gettime(CLOCK_REALTIME, &now), 0);
    now.tv_sec += by.count();
    ASSERT_EQ(clock_settime(CLOCK_REALTIME, &now), 0);
    moved += by;
  }
  void TearDown() override {
    if (moved != 0s) move_clock(-moved);
  }
  std::chrono::seconds moved{};
};

class CanKernelStepTest : public CanKernelClockTest, public ::testing::WithParamInterface<int> {};

TEST_P(CanKernelStepTest, AStepOfTheWallClockDoesNotBendJobTimeAndIsToldOnce) {
  const std::chrono::seconds step{GetParam()};
  const auto steady_before = std::chrono::steady_clock::now();
  const TimePoint before = time->now();
  vehicle_sends(standard_id(0x100), {1});  // stamped before, read after
  move_clock(step);
  vehicle_sends(standard_id(0x101), {2});
  const auto frames = heard();  // takes a sample of the clocks before the step is asked for
  ASSERT_EQ(frames.size(), 2U);
  const TimePoint after = time->now();
  EXPECT_LE(after - before, std::chrono::steady_clock::now() - steady_before);
  EXPECT_GE(after, before);
  for (const CanFrame& frame : frames) {
    EXPECT_GE(frame.at, before - 1s);
    EXPECT_LE(frame.at, after);
  }
  ASSERT_TRUE(readable(time->step_descriptor()));
  const auto told = time->take_step();
  ASSERT_TRUE(told);
  // Setting takes a moment after reading the clock; the amount is right to a fraction of a second.
  EXPECT_GT(*told, step - 1s);
  EXPECT_LT(*told, step + 1s);
  EXPECT_FALSE(time->take_step());
  move_clock(step);
  ASSERT_TRUE(readable(time->step_descriptor())) << "it is armed again";
  EXPECT_TRUE(time->take_step());
}
INSTANTIATE_TEST_SUITE_P(Steps, CanKernelStepTest, ::testing::Values(3600, -3600, 86400 * 365, 10));

// --- on every machine ---

TEST(CanSocketTest, SaysWhatToDoOnAKernelWithoutCan) {
  const int any = ::socket(AF_CAN, SOCK_RAW, 1);
  if (any >= 0) {
    ::close(any);
    GTEST_SKIP() << "this kernel has CAN";
  }
  const auto opened = CanSocket::open("can0");
  ASSERT_FALSE(opened);
  EXPECT_THAT(opened.error().text(), HasSubstr("this kernel has no CAN"));
  EXPECT_THAT(opened.error().way_out, HasSubstr("modprobe"));
}

TEST(JobTimeTest, RunsFromTheWallClockAndTurnsItsStampsIntoJobTime) {
  auto time = JobTime::start();
  ASSERT_TRUE(time) << time.error().text();
  TimePoint last = time->now();
  for (int i = 0; i < 1000; ++i) {
    const TimePoint before = time->now();
    EXPECT_GE(before, last);
    std::timespec stamp{};
    clock_gettime(CLOCK_REALTIME, &stamp);
    last = time->now();
    time->sample();
    // Sampled to some 20 µs on a quiet machine; much is left to a busy one.
    EXPECT_GE(time->from_kernel(stamp), before - 100ms);
    EXPECT_LE(time->from_kernel(stamp), last + 100ms);
  }
  EXPECT_FALSE(time->take_step());
}

}  // namespace
}  // namespace sumplog
