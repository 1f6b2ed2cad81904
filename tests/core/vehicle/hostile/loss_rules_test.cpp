#include <gtest/gtest.h>

#include <chrono>
#include <string>
#include <vector>

#include "core/isotp/frames.h"
#include "core/item/json_line.h"
#include "core/vehicle/hostile/rules.h"

namespace sumplog::hostile {
namespace {

using namespace std::chrono_literals;

constexpr char kEndings[] = "every request has one ending";
constexpr char kFrames[] = "every lost frame is counted";
constexpr char kAnswers[] = "every answer is used or counted";

/// Frames, loss lines and endings by hand.
class LossRules : public ::testing::Test {
 protected:
  void hear(Duration at, CanId id, std::string_view hex) {
    trace_.items.emplace_back(data_frame(TimePoint{at}, BusName("can0"), id, isotp_words::bytes(hex)));
  }
  void lose(Duration at, const std::string& unit, const std::string& why, int frames = 1) {
    trace_.journal.push_back(R"({"t":)" + fixed(in_seconds(at), 6) +
                             R"(,"kind":"loss","bus":"can0","ecu":")" + unit + R"(","why":")" + why +
                             R"(","frames":)" + std::to_string(frames) + "}");
  }
  void end(Duration asked_at, CanId request, std::optional<CanId> unit = {}, int pending = 0) {
    Exchange one;
    one.asked_at = TimePoint{asked_at};
    one.request.id = request;
    one.result = ExchangeResult::answered;
    one.pending = pending;
    if (unit) {
      one.unit = one.request;
      one.unit->id = *unit;
    }
    replayed_.exchanges.push_back(one);
  }
  [[nodiscard]] std::string judged() const {
    const auto finding = judge_losses(trace_, replayed_);
    return finding ? finding->rule + ": " + finding->what : "";
  }
  void expect(const std::string& rule, const std::string& words) const {
    EXPECT_EQ(judged(), rule + ": " + words);
  }

  Trace trace_;
  Replayed replayed_;
  const CanId request_ = standard_id(0x7E1);
  const CanId unit_ = standard_id(0x7E9);
  const CanId everybody_ = standard_id(0x7DF);
};

TEST_F(LossRules, HoldOnAJobInWhichNothingHappened) {
  EXPECT_EQ(judged(), "");
}

TEST_F(LossRules, FindALossOfAUnitThatSaidNothing) {
  lose(1s, "7EA", "frame of a reserved type");
  expect(kFrames, "7EA: 0 frames belong to nothing, the journal counts 1");
}

TEST_F(LossRules, FindWhatTheKernelDroppedAndNobodySays) {
  trace_.items.emplace_back(ReceiveDrops{TimePoint{1s}, BusName("can0"), 3});
  expect(kFrames, "the kernel dropped 3 frames, the journal counts 0");
  lose(1s, "", "receive buffer overrun", 2);
  expect(kFrames, "the kernel dropped 3 frames, the journal counts 2");
  lose(1s, "", "receive buffer overrun", 1);
  EXPECT_EQ(judged(), "");
}

TEST_F(LossRules, FindAnEndingWithoutARequest) {
  end(1s, request_);
  expect(kEndings, "an ending without a request on 7E1");
}

TEST_F(LossRules, FindTwoEndingsForOneUnitThatEverybodyWasAskedWith) {
  hear(1s, everybody_, "02010C0000000000");
  hear(1s + 20ms, unit_, "04410C0A80000000");
  hear(1s + 30ms, standard_id(0x7E8), "04410C0A80000000");
  end(1s, everybody_, unit_);
  end(1s, everybody_, standard_id(0x7E8));
  EXPECT_EQ(judged(), "");
  end(1s, everybody_, unit_);
  expect(kEndings, "two endings for one unit of the request on 7DF");
}

TEST_F(LossRules, FindARequestThatIsForgotten) {
  hear(1s, request_, "0322F19000000000");
  trace_.items.emplace_back(End{TimePoint{7s}});
  EXPECT_EQ(judged(), "");  // it may still be open
  trace_.items.back() = End{TimePoint{7s + 1us}};
  expect(kEndings, "forgotten: the request on 7E1");
}

TEST_F(LossRules, DoNotCallARequestForgottenThatAskedForMoreTime) {
  hear(1s, request_, "0322F19000000000");
  hear(1s + 20ms, unit_, "037F227800000000");
  trace_.items.emplace_back(End{TimePoint{8s}});
  EXPECT_EQ(judged(), "");
}

TEST_F(LossRules, LetARequestGoWhoseFirstFrameWasRefused) {
  const auto two_frames = [&](Duration at) {  // ISO 15765-2: 8 bytes in two frames
    hear(at, request_, "100822F190F18AF1");
    hear(at + 10ms, request_, "2187000000000000");
  };
  two_frames(1s);
  two_frames(2s);
  expect(kEndings, "no ending of the request on 7E1");
  lose(1s, "7E1", "too many transfers at once");
  EXPECT_EQ(judged(), "");
  // Neither is the last one forgotten, when it was refused as well.
  trace_.items.emplace_back(End{TimePoint{9s}});
  expect(kEndings, "forgotten: the request on 7E1");
  lose(2s, "7E1", "too many transfers at once");
  EXPECT_EQ(judged(), "");
}

TEST_F(LossRules, FindAnAnswerThatIsNeitherUsedNorCounted) {
  hear(1s, request_, "0322F19000000000");
  hear(1s + 20ms, unit_, "0462F19000000000");
  hear(1s + 30ms, unit_, "0462F19000000000");
  end(1s, request_, unit_);
  expect(kAnswers, "2 whole answers, 1 used, 0 pending, 0 not asked for");
  lose(1s, "7E9", "answer without a request");
  EXPECT_EQ(judged(), "");
  lose(1s, "7E9", "answer without a request");
  expect(kAnswers, "2 whole answers, 1 used, 0 pending, 2 not asked for");
}

TEST_F(LossRules, LetPendingOfAnOpenRequestBeInNoEndingYet) {
  hear(1s, request_, "0322F19000000000");
  hear(1s + 20ms, unit_, "037F227800000000");
  EXPECT_EQ(judged(), "");
  hear(1s + 30ms, unit_, "0462F19000000000");
  expect(kAnswers, "2 whole answers, 0 used, 0 pending, 0 not asked for");
}

TEST_F(LossRules, CountNoWholeAnswersWhereTransfersWereRefused) {
  hear(1s, unit_, "0462F19000000000");
  expect(kAnswers, "1 whole answers, 0 used, 0 pending, 0 not asked for");
  lose(1s, "7E9", "too many transfers at once");
  EXPECT_EQ(judged(), "");
}

}  // namespace
}  // namespace sumplog::hostile
