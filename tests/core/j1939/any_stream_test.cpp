#include <gtest/gtest.h>

#include <algorithm>
#include <chrono>
#include <random>
#include <string>

#include "core/isotp/frames.h"
#include "core/j1939/packets.h"
#include "core/j1939/transport.h"

// Frame walk and random streams: no message is invented, no loss is silent.
namespace sumplog {
namespace {
using namespace std::chrono_literals;
using namespace isotp_words;

struct Heard {
  std::vector<std::vector<std::uint8_t>> payloads;
  std::uint64_t lost_frames = 0;
};
Heard listen(const std::vector<CanFrame>& frames) {
  J1939Transport transport;
  Heard heard;
  const auto take = [&](const TransportStep& step) {
    if (step.message) heard.payloads.push_back(step.message->payload);
    if (step.loss) heard.lost_frames += step.loss->frames;
  };
  for (const CanFrame& one : frames) {
    while (transport.deadline() && *transport.deadline() <= one.at) take(transport.on_deadline(one.at));
    take(transport.on_frame(one));
  }
  while (transport.deadline()) take(transport.on_end(frames.back().at));
  std::sort(heard.payloads.begin(), heard.payloads.end());
  return heard;
}

/// Two sources broadcast 20 and 30 bytes at the same time.
std::vector<CanFrame> broadcasts() {
  auto second = numbered(30);
  second[0] = 0xEE;
  std::vector<CanFrame> frames;
  TimePoint at = kStart;
  const auto add = [&](std::uint32_t id, const std::vector<std::uint8_t>& data) {
    frames.push_back(frame(at += 50ms, extended_id(id), data));
  };
  add(0x18ECFF03, announcement(kBam, 20, 0xFECA));
  add(0x18ECFF00, announcement(kBam, 30, 0xFECA));
  for (std::size_t number = 1; number <= 5; ++number) {
    if (number <= 3) add(0x18EBFF03, packet(numbered(20), number));
    add(0x18EBFF00, packet(second, number));
  }
  return frames;
}

void expect_no_message_that_was_not_sent(const Heard& heard, const std::string& where) {
  static const auto sent = listen(broadcasts()).payloads;
  ASSERT_EQ(sent.size(), 2U);
  EXPECT_TRUE(std::includes(sent.begin(), sent.end(), heard.payloads.begin(), heard.payloads.end())) << where;
  EXPECT_EQ(heard.payloads.size() == sent.size(), heard.lost_frames == 0) << where;
}

TEST(J1939FrameWalk, LeftOutDoubledAndSwappedFramesInventNothingAndAreNeverSilent) {
  const auto whole = broadcasts();
  for (std::size_t k = 0; k < whole.size(); ++k) {
    auto frames = whole;
    frames.erase(frames.begin() + static_cast<std::ptrdiff_t>(k));
    expect_no_message_that_was_not_sent(listen(frames), "without " + std::to_string(k));
    for (std::size_t other = k + 1; other < whole.size(); ++other) {
      frames = whole;
      std::swap(frames[k], frames[other]);
      std::swap(frames[k].at, frames[other].at);
      expect_no_message_that_was_not_sent(listen(frames),
                                          std::to_string(k) + " with " + std::to_string(other));
    }
    frames = whole;
    frames.insert(frames.begin() + static_cast<std::ptrdiff_t>(k), whole[k]);
    const Heard heard = listen(frames);
    EXPECT_GT(heard.lost_frames, 0U) << k;
  }
}

TEST(J1939FrameWalk, ACorruptedPayloadByteChangesThatByteAlone) {
  const auto whole = broadcasts();
  const auto sent = listen(whole).payloads;
  for (std::size_t k = 2; k < whole.size(); ++k) {
    for (std::size_t byte = 0; byte < 8; ++byte) {
      auto frames = whole;
      frames[k].bytes[byte] ^= 0x10;
      const Heard heard = listen(frames);
      if (byte == 0) {
        expect_no_message_that_was_not_sent(heard, std::to_string(k));
        continue;
      }
      EXPECT_EQ(heard.lost_frames, 0U);
      ASSERT_EQ(heard.payloads.size(), 2U);
    }
  }
}

TEST(J1939AnyStream, AccountsForEveryDataPacket) {
  std::mt19937 dice(7);
  J1939Transport transport;
  std::uint64_t fed = 0;
  std::uint64_t accounted = 0;
  std::uint64_t messages = 0;
  std::vector<std::uint8_t> next(4, 1);
  const auto take = [&](const TransportStep& step) {
    if (step.loss) accounted += step.loss->frames;
    if (!step.message) return;
    accounted += 1 + (step.message->payload.size() + 6) / 7;
    ++messages;
  };
  TimePoint now = kStart;
  for (int i = 0; i < 100'000; ++i) {
    now += dice() % 100 == 0 ? Duration{800ms} : Duration{1ms};
    if (dice() % 2 == 0) {
      while (transport.deadline() && *transport.deadline() <= now) take(transport.on_deadline(now));
    }
    const auto source = static_cast<std::uint32_t>(dice() % next.size());
    ++fed;
    if (dice() % 5 == 0) {
      next[source] = 1;
      auto data = announcement(kBam, dice() % 40, 0xFECA);
      if (dice() % 20 == 0) data.resize(dice() % 9);
      take(transport.on_frame(frame(now, extended_id(0x18ECFF00 | source), data)));
    } else {
      std::vector<std::uint8_t> data(dice() % 50 == 0 ? 1 + dice() % 7 : 8, 0x11);
      data[0] = dice() % 50 == 0 ? static_cast<std::uint8_t>(dice() % 256) : next[source]++;
      take(transport.on_frame(frame(now, extended_id(0x18EBFF00 | source), data)));
    }
  }
  while (transport.deadline()) take(transport.on_end(now));
  EXPECT_EQ(accounted, fed);
  EXPECT_GT(messages, 100U);
}

TEST(J1939AnyStream, OfAnyBytesIsSurvived) {
  std::mt19937 dice(11);
  J1939Transport transport;
  TimePoint now = kStart;
  for (int i = 0; i < 200'000; ++i) {
    now += Duration{static_cast<std::int64_t>(dice() % 20'000) - 1000};
    std::vector<std::uint8_t> data(dice() % 9);
    for (auto& one : data) one = static_cast<std::uint8_t>(dice() % 256);
    constexpr std::uint8_t kControls[] = {16, 17, 19, 32, 255};
    const bool management = dice() % 2 == 0;
    if (!data.empty() && management) data[0] = kControls[dice() % 5];
    const auto addresses = static_cast<std::uint32_t>(dice() % 0x10000);
    const auto step = transport.on_frame(
        frame(now, extended_id((management ? 0x18EC0000U : 0x18EB0000U) | addresses), data));
    if (step.loss) {
      EXPECT_GT(step.loss->frames, 0U);
    }
    if (dice() % 64 == 0) (void)transport.on_deadline(now);
  }
}

}  // namespace
}  // namespace sumplog
