#include <gtest/gtest.h>

#include <algorithm>

#include "core/decoder/folders.h"
#include "core/vehicle/hostile/journal_text.h"
#include "core/vehicle/hostile/run.h"

namespace sumplog::hostile {
namespace {

using namespace std::chrono_literals;

// A judge that finds nothing is worth nothing: here a sound job is spoilt in one place each, and the judge must
// name the rule.
class JudgeTest : public ::testing::Test {
 protected:
  static const Outcome& sound() {
    static const Outcome outcome = [] {
      std::vector<DecoderText> texts;
      for (const char* const name : {"obd-generic/signals.toml", "demo-9/signals.toml", "demo-9/service.toml",
                                     "j1939-transmission/signals.toml"})
        texts.push_back({{}, name, testing::file_text(std::string(SUMPLOG_SOURCE "/decoders/") + name)});
      for (std::uint64_t seed = 1;; ++seed) {
        const Plan plan = make_plan(seed);
        const bool wanted = !plan.lying && !plan.scenario.j1939 && !plan.scenario.extended_ids &&
                            !plan.scenario.fd && plan.calm_from < plan.scenario.lasts;
        if (!wanted) continue;
        Outcome one = run_seed(seed, texts);
        const bool gets_inside =
            std::any_of(one.trace.journal.begin(), one.trace.journal.end(),
                        [](const auto& line) { return line.find(R"("to":"inside")") != std::string::npos; });
        if (gets_inside && one.text.find(R"("item":"other_tester")") != std::string::npos) return one;
      }
    }();
    return outcome;
  }

  JudgeTest() : plan_(sound().plan), trace_(sound().trace), replayed_(replay(sound().text)) {}

  /// The first line from `from` on that holds all words.
  std::size_t line_with(std::initializer_list<std::string_view> words, std::size_t from = 0) {
    for (std::size_t i = from; i < trace_.journal.size(); ++i) {
      const std::string& line = trace_.journal[i];
      if (std::all_of(words.begin(), words.end(),
                      [&](std::string_view word) { return line.find(word) != std::string::npos; }))
        return i;
    }
    ADD_FAILURE() << "no such line";
    return 0;
  }
  void replace(std::size_t line, std::string_view what, std::string_view by) {
    std::string& text = trace_.journal[line];
    const std::size_t at = text.find(what);
    ASSERT_NE(at, std::string::npos) << text;
    text.replace(at, what.size(), by);
  }
  void remove(std::size_t line) {
    trace_.journal.erase(trace_.journal.begin() + static_cast<std::ptrdiff_t>(line));
    trace_.said_at.erase(trace_.said_at.begin() + static_cast<std::ptrdiff_t>(line));
  }
  static std::string rule_of(const std::optional<Finding>& finding) {
    return finding ? finding->rule : "none";
  }

  Plan plan_;
  Trace trace_;
  Replayed replayed_;
};

TEST_F(JudgeTest, FindsNothingInASoundJob) {
  const auto finding = judge(plan_, trace_, replayed_);
  EXPECT_FALSE(finding) << report_of(plan_, trace_, *finding);
}

TEST_F(JudgeTest, FindsALineThatReplayDoesNotGive) {
  replayed_.journal.pop_back();
  EXPECT_EQ(rule_of(judge_replay(trace_, replayed_)), "the same journal");
}

TEST_F(JudgeTest, SaysWhereLiveAndReplayedPart) {
  const std::string last = replayed_.journal.back();
  replayed_.journal.pop_back();
  EXPECT_EQ(judge_replay(trace_, replayed_)->what, "only live: " + last);
  trace_.journal.resize(trace_.journal.size() - 2);
  EXPECT_EQ(judge_replay(trace_, replayed_)->what, "only replayed: " + replayed_.journal.back());
  replayed_.journal[1] = "{}";
  EXPECT_EQ(judge_replay(trace_, replayed_)->what, "live: " + trace_.journal[1] + "\n  replayed: {}");
}

TEST_F(JudgeTest, AsksEveryRule) {
  const auto rule = [&](auto spoil) {
    trace_ = sound().trace;
    replayed_.journal = trace_.journal;
    spoil();
    replayed_.journal.resize(trace_.journal.size());
    return rule_of(judge(plan_, trace_, replayed_));
  };
  EXPECT_EQ(rule([] {}), "none");
  EXPECT_EQ(rule([&] { replayed_.journal[0] = "{}"; }), "the same journal");
  EXPECT_EQ(rule([&] { trace_.sent.front().frame.length = 4; }), "no frame outside the guard's list");
  EXPECT_EQ(rule([&] { trace_.wire.clear(); }), "no invented reading");
  EXPECT_EQ(rule([&] { trace_.said_at.back() += 1s; }), "what ends by time is said in time");
  EXPECT_EQ(rule([&] { replayed_.exchanges.clear(); }), "every request has one ending");
  replayed_ = replay(sound().text);
  EXPECT_EQ(rule([&] {
              // The calm is long after the last reading.
              plan_.scenario.lasts += 1h;
              plan_.calm_from = plan_.scenario.lasts - 90s;
            }),
            "the job goes on");
}

TEST_F(JudgeTest, FindsAnInventedReading) {
  const std::size_t line = line_with({R"("kind":"reading")", R"("signal":"fluid_temperature","value":)"});
  const auto value = static_cast<int>(*JournalText(trace_.journal[line]).number("value"));
  replace(line, R"("value":)" + std::to_string(value), R"("value":)" + std::to_string(value + 1));
  EXPECT_EQ(rule_of(judge_readings(plan_, trace_)), "no invented reading");
}

TEST_F(JudgeTest, FindsAReadingOfAnotherUnit) {
  replace(line_with({R"("kind":"reading")", R"("value":)", R"("ecu":"7E9")"}), "7E9", "7E8");
  EXPECT_EQ(rule_of(judge_readings(plan_, trace_)), "no invented reading");
}

TEST_F(JudgeTest, FindsAReadingThatNobodyPutOnTheWire) {
  std::erase_if(trace_.wire, [](const CanFrame& frame) { return frame.id == standard_id(0x7E9); });
  EXPECT_EQ(rule_of(judge_readings(plan_, trace_)), "no invented reading");
}

TEST_F(JudgeTest, FindsAReadingThatNobodyAskedFor) {
  // The requests are taken out of the job file; the answers stay.
  std::erase_if(trace_.items, [](const Item& item) {
    const auto* frame = std::get_if<CanFrame>(&item);
    return frame != nullptr && frame->id == standard_id(0x7E1);
  });
  EXPECT_EQ(rule_of(judge_readings(plan_, trace_)), "no invented reading");
}

TEST_F(JudgeTest, FindsInsideThatIsNotTakenBackInTime) {
  // Where the window was left because nothing came any more, the line is gone.
  const std::size_t entered = line_with({R"("kind":"window")", R"("to":"inside")"});
  const std::size_t left = line_with({R"("kind":"window")", R"("from":"inside")"}, entered);
  remove(left);
  const std::string rule = rule_of(judge_window(plan_, trace_));
  EXPECT_TRUE(rule == "no inside without a fresh valid reading" || rule == "the journal is in order") << rule;
}

TEST_F(JudgeTest, FindsInsideWithoutAReading) {
  const std::size_t entered = line_with({R"("kind":"window")", R"("to":"inside")"});
  for (std::size_t i = entered; i-- > 0;) {
    const JournalText text(trace_.journal[i]);
    if (!text.is("window"))
      remove(i);
    else if (const auto temperature = text.value("temp_c"))
      replace(i, R"(,"temp_c":)" + std::string(*temperature), "");
  }
  EXPECT_EQ(rule_of(judge_window(plan_, trace_)), "no inside without a fresh valid reading");
}

TEST_F(JudgeTest, FindsAPermissionThatIsNotEarned) {
  const std::size_t check = line_with({R"("kind":"check","state":"unknown")"});
  replace(check, "unknown", "may start");
  EXPECT_EQ(rule_of(judge_window(plan_, trace_)), "the check may start only when everything is seen");
}

TEST_F(JudgeTest, FindsALineThatIsSaidTooLate) {
  trace_.said_at[trace_.said_at.size() / 2] += 1s;
  EXPECT_EQ(rule_of(judge_window(plan_, trace_)), "what ends by time is said in time");
}

TEST_F(JudgeTest, FindsEveryFrameThatMustNotLeave) {
  const auto sent = std::find_if(trace_.sent.begin(), trace_.sent.end(),
                                 [](const Sent& one) { return one.frame.id == standard_id(0x7E1); });
  ASSERT_NE(sent, trace_.sent.end());
  const CanFrame good = sent->frame;
  const auto spoil = [&](auto change) {
    sent->frame = good;
    change(sent->frame);
    EXPECT_EQ(rule_of(judge_sent(plan_, trace_)), "no frame outside the guard's list");
  };
  spoil([](CanFrame& frame) { frame.bytes[1] = 0x2E; });           // writes
  spoil([](CanFrame& frame) { frame.bytes[1] = 0x10; });           // another session
  spoil([](CanFrame& frame) { frame.bytes[0] = 0x05; });           // two identifiers and a half
  spoil([](CanFrame& frame) { frame.bytes[7] = 0x00; });           // padding
  spoil([](CanFrame& frame) { frame.length = 4; });                // short
  spoil([](CanFrame& frame) { frame.id = standard_id(0x7E9); });   // the voice of a unit
  spoil([](CanFrame& frame) { frame.id = standard_id(0x123); });   // anybody's
  spoil([](CanFrame& frame) { frame.kind = FrameKind::remote; });  // asks without asking
  spoil([](CanFrame& frame) {                                      // flow control that nobody waits for
    frame.bytes = {0x30, 0, 0, 0xCC, 0xCC, 0xCC, 0xCC, 0xCC};
  });
  spoil([](CanFrame& frame) { frame.bytes = {0x31, 0, 0, 0xCC, 0xCC, 0xCC, 0xCC, 0xCC}; });  // wait
}

TEST_F(JudgeTest, FindsAFrameSentBesideAnotherTester) {
  for (std::size_t i = 0; i < trace_.items.size(); ++i) {
    const auto* other = std::get_if<OtherTester>(&trace_.items[i]);
    if (other == nullptr) continue;
    const auto next =
        std::find_if(trace_.sent.begin(), trace_.sent.end(), [i](const Sent& one) { return one.after > i; });
    Sent early = trace_.sent.front();
    early.after = i + 1;
    early.frame.at = other->at + 1s;
    trace_.sent.insert(next, early);
    break;
  }
  EXPECT_EQ(rule_of(judge_sent(plan_, trace_)), "nothing is sent when it may disturb");
}

TEST_F(JudgeTest, FindsALossThatIsNotSaid) {
  remove(line_with({R"("kind":"loss")", R"("why":"request without an answer")"}));
  EXPECT_EQ(rule_of(judge_losses(trace_, replayed_)), "every answer is used or counted");
}

TEST_F(JudgeTest, FindsALostFrameThatIsNotCounted) {
  CanFrame frame;
  frame.at = trace_.wire.front().at;
  frame.id = standard_id(0x7E8);
  frame.set_data(std::vector<std::uint8_t>{0x21, 0, 0, 0, 0, 0, 0, 0});
  trace_.items.insert(trace_.items.begin() + 10, frame);
  EXPECT_EQ(rule_of(judge_losses(trace_, replayed_)), "every lost frame is counted");
}

TEST_F(JudgeTest, FindsARequestWithTwoEndingsAndOneWithout) {
  const auto physical =
      std::find_if(replayed_.exchanges.begin(), replayed_.exchanges.end(), [](const Exchange& one) {
        return one.request.id == standard_id(0x7E1) && one.result == ExchangeResult::answered;
      });
  ASSERT_NE(physical, replayed_.exchanges.end());
  const Exchange copy = *physical;
  replayed_.exchanges.erase(physical);
  EXPECT_EQ(rule_of(judge_losses(trace_, replayed_)), "every request has one ending");
  replayed_.exchanges.push_back(copy);
  EXPECT_EQ(rule_of(judge_losses(trace_, replayed_)), "none");
  replayed_.exchanges.push_back(copy);
  EXPECT_EQ(rule_of(judge_losses(trace_, replayed_)), "every request has one ending");
}

TEST_F(JudgeTest, FindsAJobThatDoesNotGoOn) {
  const TimePoint calm = plan_.scenario.start + plan_.calm_from;
  for (std::size_t i = trace_.journal.size(); i-- > 0;)
    if (JournalText(trace_.journal[i]).is("reading") && JournalText(trace_.journal[i]).at() > calm) remove(i);
  EXPECT_EQ(rule_of(judge_calm(plan_, trace_)), "the job goes on");
}

TEST_F(JudgeTest, ReportsTheSeedTheRuleTheTimeAndTheLinesBefore) {
  const Finding finding{
      "a rule", trace_.items.back().index() == 0 ? TimePoint{} : time_of(trace_.items.back()), "what"};
  const std::string report = report_of(plan_, trace_, finding);
  for (const std::string& words : {"seed " + std::to_string(plan_.seed), std::string("a rule"),
                                   trace_.journal.back(), std::string("sumplog simulate --hostile ")})
    EXPECT_NE(report.find(words), std::string::npos) << words;
}

TEST_F(JudgeTest, ReportsNoLineAfterTheFinding) {
  const std::size_t middle = trace_.journal.size() / 2;
  const std::string report =
      report_of(plan_, trace_, {"a rule", JournalText(trace_.journal[middle]).at(), "what"});
  EXPECT_NE(report.find(trace_.journal[middle]), std::string::npos);
  EXPECT_EQ(report.find(trace_.journal.back()), std::string::npos);
}

}  // namespace
}  // namespace sumplog::hostile
