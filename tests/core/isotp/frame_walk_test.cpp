#include <gtest/gtest.h>

#include <algorithm>
#include <chrono>
#include <map>
#include <string>

#include "core/isotp/conversation.h"
#include "core/isotp/pci.h"
#include "core/isotp/transport.h"

// Frame walk: each frame of a recording in turn is left out, doubled, swapped with its neighbour, corrupted.
// No message is invented, no loss is silent.
namespace sumplog {
namespace {
using namespace std::chrono_literals;
using namespace isotp_words;

struct Heard {
  std::vector<Message> messages;
  std::vector<TransportLoss> losses;
  std::uint64_t lost_frames = 0;
};

void take(Heard& heard, const TransportStep& step) {
  if (step.message) heard.messages.push_back(*step.message);
  if (!step.loss) return;
  heard.losses.push_back(*step.loss);
  heard.lost_frames += step.loss->frames;
}

/// A whole recording through a transport that listens, with every deadline in it, up to its end.
Heard listen(const std::vector<CanFrame>& frames) {
  Transport transport{AddressBook{}};
  Heard heard;
  for (const CanFrame& one : frames) {
    while (transport.deadline() && *transport.deadline() <= one.at) {
      take(heard, transport.on_deadline(one.at));
    }
    take(heard, transport.on_frame(one));
  }
  while (transport.deadline()) take(heard, transport.on_end(frames.back().at));
  return heard;
}

/// Three units answer at once, with flow control of a tester between: 20, 8 and 62 bytes, and single frames
/// around.
std::vector<CanFrame> recording(std::size_t frame_length) {
  std::vector<std::vector<CanFrame>> talks;
  std::uint32_t unit = 0;
  for (const std::size_t length : {20U, 8U, 62U}) {
    SenderConfig from = sender_config(frame_length);
    from.from.id = standard_id(0x7E8 + unit);
    from.flow_control_from.id = standard_id(0x7E0 + unit);
    ReceiverConfig to = receiver_config(3);
    to.from = from.from;
    to.reply_to = from.flow_control_from;
    Sender sender(from);
    Receiver receiver(to);
    auto payload = numbered(length);
    payload[0] = static_cast<std::uint8_t>(0x60 + unit);
    talks.push_back(converse(sender, receiver, payload).frames);
    ++unit;
  }
  std::vector<CanFrame> frames{frame(kStart, standard_id(0x7DF), bytes("02 09 02 CC CC CC CC CC"))};
  for (std::size_t i = 0; i < 20; ++i) {
    for (const auto& talk : talks) {
      if (i < talk.size()) frames.push_back(talk[i]);
    }
  }
  frames.push_back(frame(kStart, standard_id(0x7E9), bytes("03 41 05 7B CC CC CC CC")));
  frames.push_back(frame(kStart, standard_id(0x7EA), bytes("03 7F 09 78 CC CC CC CC")));
  // Corrupt length bytes must not find a later message to grow into.
  TimePoint at = kStart;
  for (CanFrame& one : frames) one.at = at += 5ms;
  return frames;
}

using Bag = std::map<std::vector<std::uint8_t>, int>;
Bag bag_of(const std::vector<Message>& messages) {
  Bag bag;
  for (const Message& one : messages) ++bag[one.payload];
  return bag;
}

bool is_flow_control(const CanFrame& one) {
  return (one.bytes[0] & kPciTypeMask) == kPciFlowControl;
}
bool is_single(const CanFrame& one) {
  return (one.bytes[0] & kPciTypeMask) == kPciSingle;
}

class FrameWalk : public ::testing::TestWithParam<std::size_t> {
 protected:
  std::vector<CanFrame> frames_ = recording(GetParam());
  Bag sent_ = bag_of(listen(frames_).messages);

  /// Nothing but what was sent, and never more often, save for a doubled single frame.
  void expect_nothing_invented(const Heard& heard, const std::string& where,
                               bool doubled_single = false) const {
    for (const auto& [payload, count] : bag_of(heard.messages)) {
      const auto known = sent_.find(payload);
      ASSERT_NE(known, sent_.end()) << where;
      EXPECT_LE(count, known->second + (doubled_single ? 1 : 0)) << where;
    }
  }
  [[nodiscard]] bool all_arrived(const Heard& heard) const {
    const Bag got = bag_of(heard.messages);
    return std::all_of(sent_.begin(), sent_.end(), [&](const auto& one) {
      const auto found = got.find(one.first);
      return found != got.end() && found->second >= one.second;
    });
  }
};

TEST_P(FrameWalk, TheRecordingItselfIsWhole) {
  const Heard heard = listen(frames_);
  EXPECT_TRUE(heard.losses.empty());
  EXPECT_EQ(heard.messages.size(), 6U);
}

TEST_P(FrameWalk, AFrameLeftOut) {
  for (std::size_t k = 0; k < frames_.size(); ++k) {
    auto frames = frames_;
    frames.erase(frames.begin() + static_cast<std::ptrdiff_t>(k));
    const Heard heard = listen(frames);
    const std::string where = "frame " + std::to_string(k);
    expect_nothing_invented(heard, where);
    // Flow control carries nothing; a single frame that never came is for the layer above to miss.
    const bool can_be_noticed = !is_flow_control(frames_[k]) && !is_single(frames_[k]);
    EXPECT_EQ(!heard.losses.empty(), can_be_noticed) << where;
    EXPECT_EQ(all_arrived(heard), is_flow_control(frames_[k])) << where;
  }
}

TEST_P(FrameWalk, AFrameDoubled) {
  for (std::size_t k = 0; k < frames_.size(); ++k) {
    auto frames = frames_;
    frames.insert(frames.begin() + static_cast<std::ptrdiff_t>(k), frames_[k]);
    const Heard heard = listen(frames);
    const std::string where = "frame " + std::to_string(k);
    expect_nothing_invented(heard, where, is_single(frames_[k]));
    EXPECT_EQ(!heard.losses.empty(), !is_flow_control(frames_[k]) && !is_single(frames_[k])) << where;
    EXPECT_TRUE(all_arrived(heard) || !heard.losses.empty()) << where;
  }
}

TEST_P(FrameWalk, AFrameSwappedWithEachLaterOne) {
  for (std::size_t k = 0; k < frames_.size(); ++k) {
    for (std::size_t other = k + 1; other < frames_.size(); ++other) {
      auto frames = frames_;
      std::swap(frames[k], frames[other]);
      std::swap(frames[k].at, frames[other].at);
      const Heard heard = listen(frames);
      const std::string where = std::to_string(k) + " with " + std::to_string(other);
      expect_nothing_invented(heard, where);
      EXPECT_EQ(all_arrived(heard), heard.losses.empty()) << where;
    }
  }
}

TEST_P(FrameWalk, APayloadByteCorruptedChangesThatByteAndNothingElse) {
  for (std::size_t k = 0; k < frames_.size(); ++k) {
    if (is_flow_control(frames_[k])) continue;
    const std::size_t long_frame = frames_[k].length > kClassicLength ? 1 : 0;
    const std::size_t pci = (frames_[k].bytes[0] & kPciTypeMask) == kPciFirst ? 2
                            : is_single(frames_[k])                           ? 1 + long_frame
                                                                              : 1;
    for (std::size_t byte = pci; byte < frames_[k].length; ++byte) {
      auto frames = frames_;
      frames[k].bytes[byte] ^= 0x5A;
      const Heard heard = listen(frames);
      EXPECT_TRUE(heard.losses.empty());
      ASSERT_EQ(heard.messages.size(), 6U);
      const auto whole = listen(frames_).messages;
      int different = 0;
      for (std::size_t m = 0; m < whole.size(); ++m) {
        ASSERT_EQ(heard.messages[m].payload.size(), whole[m].payload.size());
        for (std::size_t i = 0; i < whole[m].payload.size(); ++i) {
          different += heard.messages[m].payload[i] != whole[m].payload[i] ? 1 : 0;
        }
      }
      EXPECT_LE(different, 1);  // none when it was padding
    }
  }
}

TEST_P(FrameWalk, AControlByteCorruptedIsNeverSilent) {
  // CAN's own checksum guards the byte on the wire; here it is changed after that, each bit by itself. The
  // frame then is a frame of another kind, and nothing can tell: but a message that is missing leaves a loss,
  // or another message.
  for (std::size_t k = 0; k < frames_.size(); ++k) {
    for (unsigned bit = 0; bit < 8; ++bit) {
      auto frames = frames_;
      frames[k].bytes[0] ^= static_cast<std::uint8_t>(1U << bit);
      // A single frame can turn into flow control that can be read: no receiver knows better.
      if (is_single(frames_[k]) && is_flow_control(frames[k])) continue;
      const Heard heard = listen(frames);
      const Bag got = bag_of(heard.messages);
      const bool other_message = std::any_of(got.begin(), got.end(), [&](const auto& one) {
        const auto known = sent_.find(one.first);
        return known == sent_.end() || known->second < one.second;
      });
      if (!all_arrived(heard)) {
        EXPECT_TRUE(!heard.losses.empty() || other_message) << k << " bit " << bit;
      }
    }
  }
}

TEST_P(FrameWalk, ARecordingCutOffAnywhereTellsOfEveryTransferThatRan) {
  for (std::size_t count = 1; count <= frames_.size(); ++count) {
    const std::vector<CanFrame> frames(frames_.begin(), frames_.begin() + static_cast<std::ptrdiff_t>(count));
    const Heard heard = listen(frames);
    expect_nothing_invented(heard, std::to_string(count));
    std::map<std::uint32_t, int> running;  // by identifier: frames of a transfer that is not whole yet
    std::map<std::uint32_t, std::size_t> left;
    for (const CanFrame& one : frames) {
      const auto type = one.bytes[0] & kPciTypeMask;
      if (type == kPciFirst) {
        running[one.id.value] = 1;
        left[one.id.value] = one.bytes[1] - (one.length - 2U);
      } else if (type == kPciConsecutive) {
        ++running[one.id.value];
        std::size_t& rest = left[one.id.value];
        rest -= std::min<std::size_t>(rest, one.length - 1U);
        if (rest == 0) running.erase(one.id.value);
      }
    }
    std::uint64_t expected = 0;
    for (const auto& [id, number] : running) expected += static_cast<std::uint64_t>(number);
    EXPECT_EQ(heard.lost_frames, expected) << count;
    EXPECT_EQ(heard.losses.size(), running.size()) << count;
  }
}

INSTANTIATE_TEST_SUITE_P(Classic, FrameWalk, ::testing::Values(8U));
INSTANTIATE_TEST_SUITE_P(CanFd, FrameWalk, ::testing::Values(12U, 16U));

}  // namespace
}  // namespace sumplog
