// Our transport against the Linux kernel's own ISO-TP sockets (net/can/isotp.c), over two CAN controllers on one bus.
// kernel_isotp.sh runs it in the lab: can0 is the tester's controller, can1 the units', vcan0 the simulated vehicle's.
#include <gtest/gtest.h>
#include <linux/can.h>
#include <linux/can/isotp.h>
#include <net/if.h>
#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

#include <algorithm>
#include <chrono>
#include <cstdlib>
#include <cstring>
#include <functional>
#include <iostream>
#include <thread>

#include "core/guard/guard.h"
#include "core/isotp/sender.h"
#include "core/isotp/transport.h"
#include "io/can_socket.h"
#include "io/file_descriptor.h"
#include "io/job_time.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;
using Bytes = std::vector<std::uint8_t>;
using Steady = std::chrono::steady_clock;

constexpr canid_t kRequest = 0x7E1;   // ISO 15765-4
constexpr canid_t kResponse = 0x7E9;  // ISO 15765-4
constexpr auto kPatience = 20s;
const Bytes kQuestion{0x22, 0x1A, 0x05};

/// 62 1A 05 and as many bytes more, of no pattern.
Bytes answer_of(std::size_t size, std::uint32_t seed) {
  Bytes answer{0x62, 0x1A, 0x05};
  std::uint32_t state = seed + 1;
  while (answer.size() < size) {
    state = state * 1664525U + 1013904223U;
    answer.push_back(static_cast<std::uint8_t>(state >> 24));
  }
  answer.resize(size);
  return answer;
}

struct KernelOptions {
  bool padding = true;              ///< sends frames filled with CC, and insists on it in those that it gets
  std::uint32_t separation_ns = 0;  ///< between its consecutive frames, whatever flow control says; 0: obeys
  std::uint8_t block_size = 0;      ///< of its flow control
  std::uint8_t st_min = 0;          ///< of its flow control
};

/// A kernel socket that talks ISO-TP.
FileDescriptor kernel_socket(const std::string& interface, canid_t hears, canid_t says,
                             const KernelOptions& with) {
  FileDescriptor fd(::socket(PF_CAN, SOCK_DGRAM | SOCK_CLOEXEC, CAN_ISOTP));
  if (!fd) return fd;
  can_isotp_options options{};
  options.txpad_content = options.rxpad_content = 0xCC;
  if (with.padding)
    options.flags |=
        CAN_ISOTP_TX_PADDING | CAN_ISOTP_RX_PADDING | CAN_ISOTP_CHK_PAD_LEN | CAN_ISOTP_CHK_PAD_DATA;
  if (with.separation_ns != 0) options.flags |= CAN_ISOTP_FORCE_TXSTMIN;
  can_isotp_fc_options flow{with.block_size, with.st_min, 0};
  EXPECT_EQ(setsockopt(fd.get(), SOL_CAN_ISOTP, CAN_ISOTP_OPTS, &options, sizeof options), 0);
  EXPECT_EQ(setsockopt(fd.get(), SOL_CAN_ISOTP, CAN_ISOTP_RECV_FC, &flow, sizeof flow), 0);
  if (with.separation_ns != 0) {
    EXPECT_EQ(setsockopt(fd.get(), SOL_CAN_ISOTP, CAN_ISOTP_TX_STMIN, &with.separation_ns,
                         sizeof with.separation_ns),
              0);
  }
  sockaddr_can address{};
  address.can_family = AF_CAN;
  address.can_ifindex = static_cast<int>(if_nametoindex(interface.c_str()));
  address.can_addr.tp.rx_id = hears;
  address.can_addr.tp.tx_id = says;
  EXPECT_EQ(bind(fd.get(), reinterpret_cast<const sockaddr*>(&address), sizeof address), 0)
      << std::strerror(errno);
  return fd;
}

Bytes read_from(const FileDescriptor& fd) {
  pollfd one{fd.get(), POLLIN, 0};
  if (poll(&one, 1, static_cast<int>(std::chrono::milliseconds(kPatience).count())) != 1) return {};
  Bytes bytes(16384);
  const auto n = ::read(fd.get(), bytes.data(), bytes.size());
  bytes.resize(n < 0 ? 0 : static_cast<std::size_t>(n));
  return bytes;
}

/// Our side of a question: the guard builds it, the transport takes the answer together.
class OurTester {
 public:
  explicit OurTester(const std::string& interface)
      : time_(*JobTime::start()),
        socket_(*CanSocket::open(interface)),
        guard_(AddressBook{}),
        transport_(AddressBook{}) {}

  std::optional<Message> ask(const Bytes& question) {
    const Endpoint to{socket_.bus(), standard_id(kRequest), std::nullopt};
    const auto frame = guard_.build({to, question}, time_.now());
    if (!frame || !socket_.send(*frame)) return std::nullopt;
    const auto limit = Steady::now() + kPatience;
    while (Steady::now() < limit) {
      pollfd one{socket_.descriptor(), POLLIN, 0};
      (void)poll(&one, 1, 20);
      ReceivedFrames received;
      (void)socket_.receive(time_, received);
      dropped += received.dropped;
      for (const CanFrame& got : received.frames) {
        guard_.on_frame(got);
        auto step = transport_.on_frame(got);
        if (step.loss) losses.push_back(std::string(step.loss->why));
        if (step.reply)
          if (const auto reply = guard_.build_flow_control(*step.reply, time_.now()))
            (void)socket_.send(*reply);
        if (step.message && step.message->from.id.value == kResponse) return step.message;
      }
      while (transport_.deadline() && *transport_.deadline() <= time_.now()) {
        auto step = transport_.on_deadline(time_.now());
        if (step.loss) losses.push_back(std::string(step.loss->why));
      }
    }
    return std::nullopt;
  }

  std::vector<std::string> losses;
  std::uint64_t dropped = 0;

 private:
  JobTime time_;
  CanSocket socket_;
  Guard guard_;
  Transport transport_;
};

class KernelIsotp : public ::testing::Test {
 protected:
  void SetUp() override {
    if (std::getenv("LAB_KERNEL_ISOTP") == nullptr) GTEST_SKIP() << "not in the lab";
    const FileDescriptor any(::socket(PF_CAN, SOCK_DGRAM | SOCK_CLOEXEC, CAN_ISOTP));
    ASSERT_TRUE(any) << "this kernel has no ISO-TP sockets";
  }

  /// A unit of kernel sockets that answers every question with the next of `answers`.
  static std::thread unit(const std::string& interface, const KernelOptions& with,
                          std::vector<Bytes> answers) {
    auto socket = kernel_socket(interface, kRequest, kResponse, with);
    return std::thread([socket = std::move(socket), answers = std::move(answers)] {
      for (const Bytes& answer : answers) {
        if (read_from(socket).empty()) return;
        if (::write(socket.get(), answer.data(), answer.size()) < 0) return;
      }
    });
  }
};

// ISO 15765-2: a single frame holds up to 7 bytes; a first frame 6, each consecutive frame 7; 4095 is the
// longest that the short first frame can tell.
const std::vector<std::size_t> kSizes{3, 6, 7, 8, 13, 14, 20, 21, 62, 111, 118, 119, 500, 4095};

TEST_F(KernelIsotp, WeTakeWhatTheKernelSends) {
  const KernelOptions kinds[] = {
      {.padding = true}, {.padding = false}, {.padding = true, .separation_ns = 2'000'000}};
  for (const KernelOptions& kind : kinds) {
    std::vector<Bytes> answers;
    for (std::size_t i = 0; i < kSizes.size(); ++i)
      answers.push_back(answer_of(kSizes[i], static_cast<std::uint32_t>(i)));
    OurTester tester("can0");
    std::thread units = unit("can1", kind, answers);
    for (const Bytes& answer : answers) {
      const auto message = tester.ask(kQuestion);
      EXPECT_TRUE(message.has_value()) << answer.size() << " bytes, separation " << kind.separation_ns;
      if (!message) break;
      EXPECT_EQ(message->payload, answer);
      std::this_thread::sleep_for(5ms);
    }
    units.join();
    EXPECT_TRUE(tester.losses.empty()) << tester.losses.front();
    EXPECT_EQ(tester.dropped, 0U);
  }
}

TEST_F(KernelIsotp, TheKernelTakesWhatWeSend) {
  const KernelOptions kinds[] = {{.block_size = 0, .st_min = 0},      {.block_size = 1, .st_min = 0},
                                 {.block_size = 8, .st_min = 0xF3},   {.block_size = 15, .st_min = 1},
                                 {.padding = false, .block_size = 3}, {.block_size = 255, .st_min = 5}};
  for (const KernelOptions& kind : kinds) {
    auto vehicle = *VehicleSocket::open("vcan0");
    auto time = *JobTime::start();
    const auto tester = kernel_socket("vcan0", kResponse, kRequest, kind);
    ReceivedFrames before;
    (void)vehicle.receive(time, before);
    SenderConfig config;
    config.from = {vehicle.bus(), standard_id(kResponse), std::nullopt};
    config.flow_control_from = {vehicle.bus(), standard_id(kRequest), std::nullopt};
    if (!kind.padding) config.padding.reset();
    for (const std::size_t size : kSizes) {
      const Bytes answer = answer_of(size, 7);
      Sender sender(config);
      std::optional<SendResult> ended;
      const auto take = [&](const SenderStep& step) {
        if (step.frame) {
          EXPECT_TRUE(vehicle.send(*step.frame));
        }
        if (step.ended) ended = step.ended;
      };
      take(sender.start(answer, time.now()));
      const auto limit = Steady::now() + kPatience;
      while (!ended && Steady::now() < limit) {
        const auto due = sender.deadline();
        const auto wait = due ? std::max<Duration>(*due - time.now(), Duration{0}) : Duration{1s};
        const timespec sleep{wait / 1s, static_cast<long>((wait % Duration{1s}).count() * 1000)};
        pollfd one{vehicle.descriptor(), POLLIN, 0};
        (void)ppoll(&one, 1, &sleep, nullptr);
        ReceivedFrames received;
        (void)vehicle.receive(time, received);
        for (const CanFrame& got : received.frames) take(sender.on_frame(got));
        if (sender.deadline() && *sender.deadline() <= time.now()) take(sender.on_deadline(time.now()));
      }
      EXPECT_EQ(ended, SendResult::sent)
          << size << " bytes, BS " << int(kind.block_size) << ", STmin " << int(kind.st_min);
      EXPECT_EQ(read_from(tester), answer) << size << " bytes, BS " << int(kind.block_size);
    }
  }
}

// Measured side by side, printed, and held only against a generous ratio: the kernel needs no way through a process.
TEST_F(KernelIsotp, IsNotMuchSlowerThanTheKernelItself) {
  constexpr int kRounds = 10;
  constexpr std::size_t kSize = 4095;
  const std::vector<Bytes> answers(kRounds, answer_of(kSize, 3));
  const auto measure = [&](const std::function<Bytes()>& ask) {
    std::thread units = unit("can1", {}, answers);
    std::vector<double> each;
    for (int i = 0; i < kRounds; ++i) {
      const auto from = Steady::now();
      const Bytes got = ask();
      each.push_back(std::chrono::duration<double>(Steady::now() - from).count());
      EXPECT_EQ(got, answers[0]);
    }
    units.join();
    std::sort(each.begin(), each.end());
    return each[each.size() / 2];
  };
  double kernel = 0;
  {
    const auto socket = kernel_socket("can0", kResponse, kRequest, {});
    kernel = measure([&] {
      EXPECT_GT(::write(socket.get(), kQuestion.data(), kQuestion.size()), 0);
      return read_from(socket);
    });
  }
  double ours = 0;
  {
    OurTester tester("can0");
    ours = measure([&] {
      const auto message = tester.ask(kQuestion);
      return message ? message->payload : Bytes{};
    });
  }
  std::cout << "4095 bytes, question to last byte, median of " << kRounds << ": kernel " << kernel * 1000
            << " ms (" << 1 / kernel << " payloads/s), ours " << ours * 1000 << " ms (" << 1 / ours
            << " payloads/s), ratio " << ours / kernel << '\n';
  EXPECT_LT(ours / kernel, 10);
}

}  // namespace
}  // namespace sumplog
