// Our J1939 transport against the Linux kernel's own (net/can/j1939): two kernel sockets talk, we listen.
// on_a_can_kernel.sh runs it in the lab.
#include <gtest/gtest.h>
#include <linux/can.h>
#include <linux/can/j1939.h>
#include <net/if.h>
#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <chrono>
#include <cstdlib>
#include <cstring>
#include <optional>

#include "core/asker/live_job.h"
#include "core/j1939/transport.h"
#include "core/job/job_settings.h"
#include "io/can_socket.h"
#include "io/file_descriptor.h"
#include "io/job_time.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;
using Bytes = std::vector<std::uint8_t>;

constexpr std::uint8_t kGearbox = 0x03;  // SAE J1939: transmission 1, from memory; any address would do
constexpr std::uint8_t kOther = 0x80;
constexpr std::uint32_t kCodes = 0xFECA;  // DM1
constexpr auto kPatience = 20s;

FileDescriptor kernel_socket(std::uint8_t address) {
  FileDescriptor fd(::socket(PF_CAN, SOCK_DGRAM | SOCK_CLOEXEC, CAN_J1939));
  if (!fd) return fd;
  const int on = 1;
  EXPECT_EQ(setsockopt(fd.get(), SOL_SOCKET, SO_BROADCAST, &on, sizeof on), 0);
  sockaddr_can own{};
  own.can_family = AF_CAN;
  own.can_ifindex = static_cast<int>(if_nametoindex("vcan0"));
  own.can_addr.j1939.name = J1939_NO_NAME;
  own.can_addr.j1939.pgn = J1939_NO_PGN;
  own.can_addr.j1939.addr = address;
  EXPECT_EQ(bind(fd.get(), reinterpret_cast<const sockaddr*>(&own), sizeof own), 0) << std::strerror(errno);
  return fd;
}

void send_group(const FileDescriptor& from, std::uint32_t group, std::uint8_t to, const Bytes& bytes) {
  sockaddr_can address{};
  address.can_family = AF_CAN;
  address.can_addr.j1939.name = J1939_NO_NAME;
  address.can_addr.j1939.pgn = group;
  address.can_addr.j1939.addr = to;
  EXPECT_EQ(sendto(from.get(), bytes.data(), bytes.size(), 0, reinterpret_cast<const sockaddr*>(&address),
                   sizeof address),
            static_cast<ssize_t>(bytes.size()))
      << std::strerror(errno);
}

Bytes bytes_of(std::size_t size) {
  Bytes bytes;
  std::uint32_t state = static_cast<std::uint32_t>(size);
  while (bytes.size() < size) {
    state = state * 1664525U + 1013904223U;
    bytes.push_back(static_cast<std::uint8_t>(state >> 24));
  }
  return bytes;
}

class KernelJ1939 : public ::testing::Test {
 protected:
  void SetUp() override {
    if (std::getenv("SUMPLOG_CAN_KERNEL") == nullptr) GTEST_SKIP() << "not in the lab";
    gearbox = kernel_socket(kGearbox);
    ASSERT_TRUE(gearbox) << "this kernel has no J1939 sockets";
    other = kernel_socket(kOther);
    auto opened = CanSocket::open("vcan0");
    ASSERT_TRUE(opened) << opened.error().text();
    listener.emplace(std::move(*opened));
  }

  /// What the listener makes of the frames until a message of several packets is complete.
  Message next_message() {
    const auto limit = std::chrono::steady_clock::now() + kPatience;
    while (std::chrono::steady_clock::now() < limit) {
      pollfd one{listener->descriptor(), POLLIN, 0};
      (void)poll(&one, 1, 100);
      ReceivedFrames received;
      EXPECT_TRUE(listener->receive(time, received));
      std::optional<Message> complete;
      for (const CanFrame& frame : received.frames) {
        auto step = transport.on_frame(frame);
        EXPECT_FALSE(step.loss) << step.loss->why;
        if (step.message) complete = step.message;
      }
      if (complete) return *complete;
    }
    ADD_FAILURE() << "nothing came together";
    return {};
  }

  void drain() {
    pollfd one{listener->descriptor(), POLLIN, 0};
    while (poll(&one, 1, 200) > 0) {
      ReceivedFrames received;
      ASSERT_TRUE(listener->receive(time, received));
    }
  }

  FileDescriptor gearbox;
  FileDescriptor other;
  JobTime time = *JobTime::start();
  std::optional<CanSocket> listener;
  J1939Transport transport;
};

// SAE J1939-21: 9 bytes are the fewest of a transfer, 1785 the most.
const std::vector<std::size_t> kSizes{9, 14, 15, 100, 1785};

TEST_F(KernelJ1939, BroadcastAnnouncementsComeTogether) {
  for (const std::size_t size : kSizes) {
    send_group(gearbox, kCodes, J1939_NO_ADDR, bytes_of(size));
    const Message message = next_message();
    EXPECT_EQ(message.payload, bytes_of(size)) << size << " bytes";
    EXPECT_EQ(message.group, kCodes);
  }
}

TEST_F(KernelJ1939, SessionsBetweenTwoOthersComeTogether) {
  for (const std::size_t size : kSizes) {
    send_group(gearbox, 0xEF00, kOther, bytes_of(size));  // SAE J1939-71 proprietary A, to one address
    const Message message = next_message();
    EXPECT_EQ(message.payload, bytes_of(size)) << size << " bytes";
    Bytes got(4096);
    got.resize(static_cast<std::size_t>(std::max<ssize_t>(0, ::read(other.get(), got.data(), got.size()))));
    EXPECT_EQ(got, bytes_of(size)) << "what the kernel's own receiver has";
  }
}

// --- the kernel's sender and a whole live job of ours ---

constexpr std::uint32_t kSoftware = 0xFEDA;  // SAE J1939-71 software identification

/// One signal, the last of the group's bytes, asked of the gearbox as often as a decoder may.
std::vector<Item> opening_for(std::size_t size, TimePoint start) {
  std::string zeros;
  for (std::size_t i = 1; i < size; ++i) zeros += "00";
  return {Settings{start, "job", "program", "", {}},
          DecoderText{start, "long/signals.toml",
                      "format = 1\nid = \"long\"\ntitle = \"invented\"\n[[signal]]\nname = \"x_last\"\n"
                      "unit = \"none\"\nspn = 234\npgn = 65242\nsource_address = 3\nlength = " +
                          std::to_string(size) + "\nstart_bit = " + std::to_string(8 * (size - 1)) +
                          "\nbit_length = 8\nbyte_order = \"big\"\nscale = 1\noffset = 0\nvalid = [0, 255]\n"
                          "poll_s = 0.1\norigin = \"invented\"\nchecks = [\n{ bytes = \"" +
                          zeros + "00\", value = 0 },\n{ bytes = \"" + zeros + "FF\", value = 255 },\n]\n"}};
}

/// Waits for a request of ours for kSoftware and answers it to the asker: the kernel makes the session.
bool answer_request(const FileDescriptor& unit, const Bytes& answer) {
  Bytes got(16);
  sockaddr_can from{};
  socklen_t length = sizeof from;
  const ssize_t size =
      recvfrom(unit.get(), got.data(), got.size(), MSG_DONTWAIT, reinterpret_cast<sockaddr*>(&from), &length);
  if (size != 3 || from.can_addr.j1939.pgn != 0xEA00) return false;
  EXPECT_EQ((Bytes{got.begin(), got.begin() + 3}), (Bytes{0xDA, 0xFE, 0x00}));
  EXPECT_EQ(from.can_addr.j1939.addr, 0xF9);
  send_group(unit, kSoftware, from.can_addr.j1939.addr, answer);
  return true;
}

TEST_F(KernelJ1939, AGroupThatTheKernelSendsInASessionWithUsIsReadAndAcknowledged) {
  // The kernel's sender stays busy until its session has ended, and errors when it was not acknowledged.
  for (const std::size_t size : kSizes) {
    const Bytes answer = bytes_of(size);
    drain();  // frames of the job before would be another tester's
    const auto header = opening_for(size, time.now());
    ConfigurationReader reader;
    for (const Item& item : header) reader.on_item(item);
    LiveJob job(reader.finish().decoders, at_rate(listener->bus(), 100), time.now());
    int answered = 0;
    int readings = 0;
    const auto carry_out = [&](LiveOutput&& out) {
      for (const Event& event : out.events) {
        if (const auto* reading = std::get_if<ReadingEvent>(&event)) {
          EXPECT_EQ(reading->value, answer.back()) << size << " bytes";
          ++readings;
        }
        const auto* loss = std::get_if<LossEvent>(&event);  // without ecu: nobody here answers 01 00
        if (loss != nullptr && !loss->ecu.empty()) ADD_FAILURE() << loss->why;
      }
      for (const GuardedFrame& frame : out.send) EXPECT_TRUE(listener->send(frame));
    };
    const auto write = [&](const Item& item) {
      LiveOutput out;
      job.on_written(item, out);
      const std::vector<Item> record = std::move(out.record);
      carry_out(std::move(out));
      return record;
    };
    for (const Item& item : header) write(item);
    const auto limit = std::chrono::steady_clock::now() + kPatience;
    while (readings < 2 && std::chrono::steady_clock::now() < limit) {
      pollfd one{listener->descriptor(), POLLIN, 0};
      (void)poll(&one, 1, 10);
      ReceivedFrames received;
      EXPECT_TRUE(listener->receive(time, received));
      for (const CanFrame& frame : received.frames) write(frame);
      LiveOutput out;
      job.on_time(time.now(), out);
      for (const Item& item : out.record) write(item);
      carry_out(std::move(out));
      if (answer_request(gearbox, answer)) ++answered;
    }
    EXPECT_GE(readings, 2) << size << " bytes, the kernel answered " << answered << " times";
  }
}

}  // namespace
}  // namespace sumplog
