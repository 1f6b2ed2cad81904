#pragma once
#include <deque>
#include <optional>
#include <utility>
#include <vector>

#include "core/isotp/transport.h"
#include "core/vehicle/node.h"
#include "core/vehicle/scenario.h"

namespace sumplog {

/// A tester that asks by a fixed plan and knows nothing else: captures "made by another tester" come from it.
/// One request at a time; answers of several frames get flow control; what comes back is not looked at
/// further.
class ScriptedTester : public Node {
 public:
  ScriptedTester(const Scenario& scenario, TimePoint start);

  void on_frame(const CanFrame& frame) override;
  void on_deadline(TimePoint now) override;
  [[nodiscard]] std::optional<TimePoint> deadline() const override;
  [[nodiscard]] std::vector<CanFrame> take_outbox() override { return std::exchange(outbox_, {}); }
  /// Its adapter is back: what it waited for will not come any more.
  void forget_request() { waiting_.reset(); }

  /// Answers taken, whole messages.
  [[nodiscard]] const std::vector<Message>& answers() const { return answers_; }
  /// Frames of answers that never became whole.
  [[nodiscard]] std::uint64_t lost_frames() const { return lost_frames_; }

 private:
  struct Ask {
    AskPlan plan;
    Endpoint to{};
    std::optional<Endpoint> answered_by;  ///< absent: any unit
    TimePoint next{};
    bool over = false;
  };
  struct Waiting {
    Endpoint to{};
    std::optional<Endpoint> answered_by;
    TimePoint until{};
  };
  void queue_due(TimePoint now);
  void send_next(TimePoint now);
  void on_answer(const Message& message);
  void note(const TransportStep& step);

  bool fd_;
  TimePoint start_;
  std::vector<Ask> asks_;
  std::deque<std::size_t> ready_;  ///< positions in asks_
  std::optional<Waiting> waiting_;
  Transport transport_;
  std::vector<Message> answers_;
  std::uint64_t lost_frames_ = 0;
  std::vector<CanFrame> outbox_;
};

}  // namespace sumplog
