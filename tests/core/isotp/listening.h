#pragma once
#include <gtest/gtest.h>

#include <cstdint>
#include <optional>
#include <string_view>
#include <utility>
#include <vector>

#include "core/isotp/frames.h"
#include "core/isotp/receiver.h"

namespace sumplog::isotp_words {

/// Listens to the transmission unit on 7E9. Time stands still between two calls of wait().
class Listening : public ::testing::Test {
 protected:
  void begin(ReceiverConfig config) { receiver_ = Receiver(std::move(config)); }
  /// Answers too: flow control goes to 7E1.
  void answer(std::uint8_t block_size = 0, std::uint8_t st_min = 0) {
    ReceiverConfig config;
    config.from = unit();
    config.reply_to = Endpoint{kBus, standard_id(0x7E1), std::nullopt};
    config.block_size = block_size;
    config.st_min = st_min;
    begin(config);
  }
  TransportStep feed(std::string_view hex) { return feed(bytes(hex)); }
  TransportStep feed(const std::vector<std::uint8_t>& data) {
    return receiver_.on_frame(frame(now_, receiver_.config().from.id, data));
  }
  /// Time passes; a deadline in it fires.
  TransportStep wait(Duration time) {
    now_ += time;
    return receiver_.on_deadline(now_);
  }
  static Endpoint unit() { return {kBus, standard_id(0x7E9), std::nullopt}; }

  TimePoint now_ = kStart;
  Receiver receiver_ = Receiver(ReceiverConfig{unit()});
};

inline void expect_nothing(const TransportStep& step) {
  EXPECT_FALSE(step.message);
  EXPECT_FALSE(step.reply);
  EXPECT_FALSE(step.loss) << step.loss->why;
}
inline void expect_message(const TransportStep& step, const std::vector<std::uint8_t>& payload) {
  ASSERT_TRUE(step.message);
  EXPECT_EQ(step.message->payload, payload);
}
inline void expect_loss(const TransportStep& step, std::string_view why, std::uint64_t frames) {
  ASSERT_TRUE(step.loss);
  EXPECT_EQ(step.loss->why, why);
  EXPECT_EQ(step.loss->frames, frames);
}
inline void expect_reply(const TransportStep& step, std::uint32_t id, std::string_view hex) {
  ASSERT_TRUE(step.reply);
  EXPECT_EQ(step.reply->id, standard_id(id));
  EXPECT_EQ(data_of(*step.reply), bytes(hex));
}

}  // namespace sumplog::isotp_words
