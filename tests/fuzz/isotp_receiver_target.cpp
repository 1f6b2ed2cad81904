#include "core/isotp/receiver.h"
#include "fuzz/message_check.h"

namespace sumplog::fuzz {
namespace {

const BusName kBus("can0");

ReceiverConfig config_from(Feed& feed) {
  ReceiverConfig config;
  const std::uint8_t flags = feed.byte();
  config.from = {kBus, standard_id(0x7E8), std::nullopt};
  if ((flags & 1U) != 0) config.from.address = 0xF1;
  config.functional = (flags & 2U) != 0;
  if ((flags & 4U) != 0) config.reply_to = Endpoint{kBus, standard_id(0x7E0), config.from.address};
  config.block_size = flags >> 5U;
  config.st_min = feed.byte();
  if ((flags & 8U) != 0) config.max_message = 20;
  return config;
}

/// Every frame becomes part of a message, is counted in a loss, or is flow control.
class Account {
 public:
  explicit Account(const ReceiverConfig& config) : config_(config) {}
  void on_step(const TransportStep& step, const Receiver& receiver) {
    if (step.loss) {
      require(step.loss->frames <= open_, "more frames are lost than came");
      open_ -= step.loss->frames;
    }
    if (step.message) {
      require(open_ > 0, "a message out of no frame");
      require(!step.message->payload.empty(), "a message without a byte");
      require(step.message->payload.size() <= std::max<std::size_t>(config_.max_message, 62),
              "a message beyond its limit");
      heard_.require_heard(*step.message);
      open_ = 0;
    }
    if (step.reply) require(config_.reply_to && step.reply->id == config_.reply_to->id, "a reply to nobody");
    require(receiver.receiving() == receiver.deadline().has_value(), "a transfer without a deadline");
    if (!receiver.receiving()) require(open_ == 0, "a frame is lost without a word");
  }
  void on_frame(const CanFrame& frame) {
    ++open_;
    heard_.hear(frame);
  }
  void on_flow_control() { --open_; }

 private:
  ReceiverConfig config_;
  std::uint64_t open_ = 0;
  HeardBytes heard_;
};

bool is_for(const ReceiverConfig& config, const CanFrame& frame) {
  if (!config.from.address) return true;
  return frame.data().empty() || frame.data()[0] == *config.from.address;
}
bool is_flow_control(const ReceiverConfig& config, const CanFrame& frame) {
  const std::size_t at = config.from.address ? 1 : 0;
  return frame.data().size() > at && frame.data()[at] >> 4U == 3;
}

void take(Bytes bytes) {
  Feed feed(bytes);
  const ReceiverConfig config = config_from(feed);
  Receiver receiver(config);
  Account account(config);
  CanFrame frame;
  frame.at = kFirstFrame;
  frame.bus = kBus;
  frame.id = config.from.id;
  while (!feed.empty()) {
    frame.at = std::max(frame.at, frame.at + gap(feed.byte()));
    frame.fd = false;
    set_data_from(feed, frame);
    if (const auto due = receiver.deadline(); due && *due <= frame.at)
      account.on_step(receiver.on_deadline(*due), receiver);
    const bool mine = is_for(config, frame);
    if (mine) account.on_frame(frame);
    const TransportStep step = receiver.on_frame(frame);
    if (mine && is_flow_control(config, frame) && !step.loss) account.on_flow_control();
    account.on_step(step, receiver);
  }
  account.on_step(receiver.on_end(frame.at), receiver);
  require(!receiver.receiving(), "a transfer outlives the end");
}
const Registered kTarget("isotp_receiver", take);

}  // namespace
}  // namespace sumplog::fuzz
