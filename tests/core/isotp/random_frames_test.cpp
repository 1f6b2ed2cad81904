#include <gtest/gtest.h>

#include <array>
#include <chrono>
#include <random>

#include "core/isotp/conversation.h"
#include "core/isotp/pci.h"
#include "core/isotp/transport.h"

// Properties that hold for every stream of frames. The streams are random and seeded: the same on every
// machine.
namespace sumplog {
namespace {
using namespace std::chrono_literals;
using namespace isotp_words;

class Dice {
 public:
  explicit Dice(unsigned seed) : engine_(seed) {}
  std::uint32_t below(std::uint32_t end) { return static_cast<std::uint32_t>(engine_() % end); }
  std::uint8_t byte() { return static_cast<std::uint8_t>(below(256)); }

 private:
  std::mt19937 engine_;
};

/// How many classic frames with normal addressing make one message: the receiver takes no other way to cut
/// it.
std::uint64_t frames_of(std::size_t length) {
  if (length <= 7) return 1;
  const std::size_t in_first = length > kMaxShortFirst ? 2 : 6;
  return 1 + (length - in_first + 6) / 7;
}

/// A frame that looks like transport: lengths, types and sequence numbers are mostly plausible.
CanFrame plausible(Dice& dice, std::array<std::uint8_t, 8>& sequence) {
  const std::uint32_t unit = dice.below(8);
  std::vector<std::uint8_t> data(8);
  for (auto& one : data) one = dice.byte();
  switch (dice.below(10)) {
    case 0: data[0] = static_cast<std::uint8_t>(dice.below(9)); break;
    case 1:
    case 2:
      data[0] = 0x10;
      data[1] = static_cast<std::uint8_t>(dice.below(60));
      sequence[unit] = 1;
      break;
    case 3: data[0] = static_cast<std::uint8_t>(0x30 | dice.below(4)); break;
    case 4: break;  // anything
    default:
      data[0] = static_cast<std::uint8_t>(0x20 | sequence[unit]);
      sequence[unit] = static_cast<std::uint8_t>((sequence[unit] + 1) & 0xF);
  }
  if (dice.below(20) == 0) data.resize(dice.below(9));
  return frame({}, standard_id(0x7E8 + unit), data);
}

TEST(AnyStream, EveryFrameEndsInAMessageOrInALossOrIsFlowControl) {
  for (unsigned seed = 1; seed <= 20; ++seed) {
    Dice dice(seed);
    std::array<std::uint8_t, 8> sequence{};
    Transport transport{AddressBook{}};
    std::uint64_t fed = 0;
    std::uint64_t accounted = 0;
    std::uint64_t whole_transfers = 0;
    const auto take = [&](const TransportStep& step) {
      if (step.loss) accounted += step.loss->frames;
      if (!step.message) return;
      accounted += frames_of(step.message->payload.size());
      if (step.message->payload.size() > 7) ++whole_transfers;
    };
    TimePoint now = kStart;
    for (int i = 0; i < 20'000; ++i) {
      now += dice.below(50) == 0 ? Duration{1500ms} : Duration{1ms};
      if (dice.below(4) != 0) {  // sometimes the owner forgets: the frame itself must see to it
        while (transport.deadline() && *transport.deadline() <= now) take(transport.on_deadline(now));
      }
      CanFrame one = plausible(dice, sequence);
      one.at = now;
      ++fed;
      const bool flow_control = one.length >= 3 && (one.bytes[0] & kPciTypeMask) == kPciFlowControl &&
                                (one.bytes[0] & kPciLowMask) <= kFlowOverflow;
      if (flow_control) ++accounted;
      take(transport.on_frame(one));
    }
    while (transport.deadline()) take(transport.on_end(now));
    EXPECT_EQ(accounted, fed) << "seed " << seed;
    EXPECT_GT(whole_transfers, 10U) << "seed " << seed;  // the stream is not just noise
  }
}

TEST(AnyStream, OfAnyBytesOnAnyIdentifierIsSurvived) {
  const std::array<CanId, 8> ids{standard_id(0x7DF),      standard_id(0x7E0),     standard_id(0x7E8),
                                 standard_id(0x6F1),      standard_id(0x612),     extended_id(0x18DAF110),
                                 extended_id(0x18CEF110), extended_id(0x18DB33F1)};
  for (unsigned seed = 1; seed <= 20; ++seed) {
    Dice dice(seed);
    Transport transport{
        AddressBook({{standard_id(0x6F1), standard_id(0x612), AddressingMode::extended, 0x12, 0xF1}})};
    TimePoint now = kStart;
    for (int i = 0; i < 20'000; ++i) {
      now += Duration{static_cast<std::int64_t>(dice.below(20'000)) - 1000};  // time may even go back
      CanFrame one;
      one.at = now;
      one.bus = kBus;
      one.id = ids[dice.below(ids.size())];
      one.fd = dice.below(2) == 0;
      one.length = static_cast<std::uint8_t>(one.fd ? dice.below(65) : dice.below(9));
      for (std::size_t b = 0; b < one.length; ++b) one.bytes[b] = dice.byte();
      if (dice.below(3) == 0) one.bytes[0] = static_cast<std::uint8_t>(0x20 | dice.below(16));
      const auto step = transport.on_frame(one);
      if (step.message) {
        EXPECT_FALSE(step.message->payload.empty());
        EXPECT_LE(step.message->payload.size(), kDefaultMaxMessage);
      }
      if (step.loss) {
        EXPECT_FALSE(step.loss->why.empty());
        EXPECT_GT(step.loss->frames, 0U);
      }
      if (step.reply) {
        EXPECT_EQ(step.reply->length, 8);
      }
      if (dice.below(100) == 0) (void)transport.on_deadline(now);
    }
  }
}

TEST(AnyStream, IntoASenderIsSurvived) {
  for (unsigned seed = 1; seed <= 20; ++seed) {
    Dice dice(seed);
    Sender sender(sender_config(seed % 2 == 0 ? 64 : 8));
    TimePoint now = kStart;
    for (int i = 0; i < 20'000; ++i) {
      now += Duration{static_cast<std::int64_t>(dice.below(100'000))};
      if (sender.idle()) (void)sender.start(numbered(1 + dice.below(500)), now);
      std::vector<std::uint8_t> data(dice.below(9));
      for (auto& one : data) one = dice.byte();
      if (!data.empty() && dice.below(2) == 0) data[0] = 0x30;
      (void)sender.on_frame(frame(now, standard_id(0x7E1), data));
      const auto step = sender.on_deadline(now);
      if (step.frame) {
        EXPECT_LE(step.frame->length, seed % 2 == 0 ? 64 : 8);
      }
      EXPECT_EQ(sender.idle(), !sender.deadline());
    }
  }
}

}  // namespace
}  // namespace sumplog
