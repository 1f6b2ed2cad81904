#pragma once
#include <algorithm>
#include <functional>
#include <optional>
#include <span>
#include <vector>

#include "core/isotp/frames.h"
#include "core/isotp/receiver.h"
#include "core/isotp/sender.h"

namespace sumplog::isotp_words {

/// What a sender and an answering receiver made of one message.
struct Conversation {
  std::vector<CanFrame> frames;  ///< of both, in order
  std::optional<Message> message;
  std::optional<SendResult> result;
  std::vector<TransportLoss> losses;
  Duration lasted{};
};

/// Lets them talk until nothing is due any more. Frames take no time; separation does.
inline Conversation converse(Sender& sender, Receiver& receiver, std::span<const std::uint8_t> payload,
                             TimePoint now = kStart) {
  Conversation talk;
  const TimePoint begun = now;
  const auto deliver = [&](const CanFrame& one) {
    talk.frames.push_back(one);
    const TransportStep step = receiver.on_frame(one);
    if (step.message) talk.message = step.message;
    if (step.loss) talk.losses.push_back(*step.loss);
    if (!step.reply) return;
    talk.frames.push_back(*step.reply);
    if (const auto ended = sender.on_frame(*step.reply).ended) talk.result = ended;
  };
  const SenderStep first = sender.start(payload, now);
  if (first.ended) talk.result = first.ended;
  deliver(*first.frame);
  while (const auto due = sender.deadline()) {
    now = std::max(now, *due);
    const SenderStep step = sender.on_deadline(now);
    if (step.ended) talk.result = step.ended;
    if (step.frame) deliver(*step.frame);
  }
  talk.lasted = now - begun;
  return talk;
}

inline SenderConfig sender_config(std::size_t frame_length = kClassicLength) {
  SenderConfig config;
  config.from = {kBus, standard_id(0x7E9), std::nullopt};
  config.flow_control_from = {kBus, standard_id(0x7E1), std::nullopt};
  config.fd = frame_length > kClassicLength;
  config.frame_length = frame_length;
  return config;
}
inline ReceiverConfig receiver_config(std::uint8_t block_size = 0, std::uint8_t st_min = 0) {
  ReceiverConfig config;
  config.from = {kBus, standard_id(0x7E9), std::nullopt};
  config.reply_to = Endpoint{kBus, standard_id(0x7E1), std::nullopt};
  config.block_size = block_size;
  config.st_min = st_min;
  return config;
}

}  // namespace sumplog::isotp_words
