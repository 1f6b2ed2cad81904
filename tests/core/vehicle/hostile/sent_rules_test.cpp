#include <gtest/gtest.h>

#include <chrono>
#include <string>
#include <vector>

#include "core/isotp/frames.h"
#include "core/vehicle/hostile/rules.h"

namespace sumplog::hostile {
namespace {

using namespace std::chrono_literals;

constexpr char kList[] = "no frame outside the guard's list";
constexpr char kManners[] = "nothing is sent when it may disturb";

class SentRules : public ::testing::Test {
 protected:
  static CanFrame frame(CanId id, std::string_view hex, TimePoint at = TimePoint{10s}) {
    return data_frame(at, BusName("can0"), id, isotp_words::bytes(hex));
  }
  /// A request of `payload` in a single frame, padded.
  static CanFrame single(CanId id, const std::vector<std::uint8_t>& payload, TimePoint at = TimePoint{10s}) {
    std::vector<std::uint8_t> bytes{static_cast<std::uint8_t>(payload.size())};
    bytes.insert(bytes.end(), payload.begin(), payload.end());
    bytes.resize(8, 0xCC);
    return data_frame(at, BusName("can0"), id, bytes);
  }
  /// Leaves after everything that was written so far.
  void send(const CanFrame& one) { trace_.sent.push_back({one, trace_.items.size()}); }
  void write(Item item) { trace_.items.push_back(std::move(item)); }
  /// Leaves, and is heard.
  void ask(const CanFrame& one) {
    send(one);
    write(one);
  }
  [[nodiscard]] std::string judged() const {
    const auto finding = judge_sent(plan_, trace_);
    return finding ? finding->rule + ": " + finding->what : "";
  }
  std::string judged(const CanFrame& one) {
    trace_ = {};
    send(one);
    return judged();
  }
  void expect(const std::string& rule, const std::string& words) const {
    EXPECT_TRUE(judged().starts_with(rule + ": ")) << judged();
    EXPECT_NE(judged().find(words), std::string::npos) << judged();
  }

  Plan plan_;
  Trace trace_;
  const CanId unit_ = standard_id(0x7E1);
};

TEST_F(SentRules, KnowAnEchoThatASilentBusHasKept) {
  const auto judged_after = [&](Duration of_life) {
    trace_ = {};
    write(frame(standard_id(0x7E8), "02410C"));
    send(single(unit_, {0x22, 0xF1, 0x90}));
    const TimePoint awake = TimePoint{10s} + 10min;
    for (Duration gone{}; gone <= of_life; gone += 1s)
      write(frame(standard_id(0x7E8), "02410C", awake + gone));
    write(single(unit_, {0x22, 0xF1, 0x90}, awake + of_life));
    send(single(unit_, {0x22, 0xF1, 0x91}, awake + of_life + 1s));
    return judged();
  };
  EXPECT_EQ(judged_after(5s), "");
  EXPECT_NE(judged_after(6s), "") << "on a bus that lives it is another tester's";
}

TEST_F(SentRules, ABusThatLivesAgesNoEchoOfAnotherAndARemoteFrameIsNobodysQuestion) {
  send(single(unit_, {0x22, 0xF1, 0x90}));
  CanFrame other = frame(standard_id(0x7E8), "02410C");
  other.bus = BusName("can1");
  for (int s = 1; s < 8; ++s) {
    other.at = TimePoint{10s} + std::chrono::seconds{s};
    write(other);
  }
  CanFrame remote = single(unit_, {0x22, 0xF1, 0x92}, TimePoint{18s});
  remote.kind = FrameKind::remote;
  write(remote);
  write(single(unit_, {0x22, 0xF1, 0x90}, TimePoint{18s} + 1ms));
  send(single(unit_, {0x22, 0xF1, 0x91}, TimePoint{19s}));
  EXPECT_EQ(judged(), "");
}

TEST_F(SentRules, LetReadingServicesPassAtTheirLengthsAlone) {
  // src  SAE J1979 (01…0A), ISO 14229-1 (19, 22), ISO 14230-3 (21)
  struct Case {
    std::vector<std::uint8_t> begins;
    std::vector<std::size_t> lengths;  ///< of 1…7 bytes
  };
  const std::vector<Case> cases{{{0x01}, {2, 3, 4, 5, 6, 7}},
                                {{0x02}, {3, 5, 7}},
                                {{0x03}, {1}},
                                {{0x06}, {2}},
                                {{0x07}, {1}},
                                {{0x09}, {2}},
                                {{0x0A}, {1}},
                                {{0x19, 0x01}, {3}},
                                {{0x19, 0x02}, {3}},
                                {{0x19, 0x04}, {6}},
                                {{0x19, 0x06}, {6}},
                                {{0x19, 0x0A}, {2}},
                                {{0x21}, {2}},
                                {{0x22}, {3}},
                                {{0x04}, {}},        // clears codes
                                {{0x19, 0x0F}, {}},  // another report
                                {{0x31}, {}}};
  for (const Case& one : cases)
    for (std::size_t length = 1; length <= 7; ++length) {
      std::vector<std::uint8_t> payload = one.begins;
      payload.resize(length);
      const bool allowed = std::find(one.lengths.begin(), one.lengths.end(), length) != one.lengths.end();
      const std::string said = judged(single(unit_, payload));
      if (allowed)
        EXPECT_EQ(said, "") << int{payload[0]} << " of " << length;
      else
        EXPECT_TRUE(said.starts_with(std::string(kList) + ": not a reading service of that length"))
            << int{payload[0]} << " of " << length << ": " << said;
    }
  EXPECT_NE(judged(single(unit_, {})), "");
}

TEST_F(SentRules, KnowTheIdentifiers) {
  // src  ISO 15765-4
  for (const CanId id : {standard_id(0x7DF), standard_id(0x7E0), standard_id(0x7E7), extended_id(0x18DB33F1),
                         extended_id(0x18DA18F1)})
    EXPECT_EQ(judged(single(id, {0x01, 0x0C})), "") << id.value;
  for (const CanId id : {standard_id(0x7DE), standard_id(0x7E8), extended_id(0x18DB34F1),
                         extended_id(0x18DAF1F1), extended_id(0x18DA18F2), extended_id(0x7E0)}) {
    EXPECT_NE(judged(single(id, {0x01, 0x0C})), "") << id.value;
    expect(kList, "not one of the identifiers");
  }
  CanFrame fd = single(unit_, {0x01, 0x0C});
  fd.fd = true;
  EXPECT_NE(judged(fd), "");
  expect(kList, "not a classic data frame");
}

TEST_F(SentRules, LetAJ1939ToolAskForGroupsThatOnlyTell) {
  // src  SAE J1939-21 (request, 3 bytes), SAE J1939-73 (FECA is DM1, FED3 is DM11, which clears codes)
  EXPECT_EQ(judged(frame(extended_id(0x18EAFFF9), "CAFE00")), "");
  struct Case {
    CanId id;
    std::string_view hex;
    std::string words;
  };
  for (const Case& one : {Case{extended_id(0x18EAFFF9), "D3FE00", "this group is not only told"},
                          Case{extended_id(0x18EAFFFA), "CAFE00", "not from our own address"},
                          Case{extended_id(0x18EAFFF9), "CAFE0000", "not a request for a group"},
                          Case{extended_id(0x18EBFFF9), "CAFE00", "not a request for a group"},
                          Case{extended_id(0x18ECFFF9), "CAFE00", "not a request for a group"},
                          Case{extended_id(0x18EEFFF9), "CAFE00", "not a request for a group"},
                          Case{extended_id(0x18EDFFF9), "CAFE00", "not one of the identifiers"}}) {
    EXPECT_NE(judged(frame(one.id, one.hex)), "");
    expect(kList, one.words);
  }
}

TEST_F(SentRules, WantFlowControlOnlyForAnAnswerThatWaitsForIt) {
  // src  ISO 15765-2: 30 goes on, 32 is too long
  struct Case {
    CanId id;
    std::string_view flow_control;
    std::string words;  ///< nothing: it may leave
  };
  for (const Case& one :
       {Case{unit_, "300000CCCCCCCCCC", ""}, Case{unit_, "320000CCCCCCCCCC", ""},
        Case{unit_, "300100CCCCCCCCCC", "neither a single frame nor our flow control"},
        Case{unit_, "300001CCCCCCCCCC", "neither a single frame nor our flow control"},
        Case{unit_, "320100CCCCCCCCCC", "neither a single frame nor our flow control"},
        Case{unit_, "320001CCCCCCCCCC", "neither a single frame nor our flow control"},
        Case{standard_id(0x7DF), "300000CCCCCCCCCC", "flow control to everybody"},
        Case{standard_id(0x7E0), "300000CCCCCCCCCC", "no answer of several frames to us"}}) {
    trace_ = {};
    ask(single(unit_, {0x09, 0x02}));
    write(frame(standard_id(0x7E9), "1014490201305445", TimePoint{10s + 20ms}));
    ask(frame(one.id, one.flow_control, TimePoint{10s + 21ms}));
    if (one.words.empty())
      EXPECT_EQ(judged(), "");
    else
      expect(kList, one.words);
    // Our own flow control that is heard again asks for nothing: no answer may lean on it.
    if (!one.words.empty()) continue;
    write(frame(standard_id(0x7E9), "1014400000000000", TimePoint{10s + 40ms}));
    send(frame(unit_, "300000CCCCCCCCCC", TimePoint{10s + 41ms}));
    expect(kList, "no answer of several frames to us");
  }
}

TEST_F(SentRules, WantNothingOnALinkThatIsAway) {
  const auto link = [&](LinkState state) { write(LinkEvent{TimePoint{9s}, {}, state}); };
  link(LinkState::error_passive);
  send(single(unit_, {0x01, 0x0C}));
  EXPECT_EQ(judged(), "");
  for (const LinkState away : {LinkState::down, LinkState::gone, LinkState::bus_off}) {
    trace_ = {};
    link(away);
    link(LinkState::error_passive);
    send(single(unit_, {0x01, 0x0C}));
    expect(kManners, "the link is away");
    trace_.sent.clear();
    link(LinkState::up);
    send(single(unit_, {0x01, 0x0C}));
    EXPECT_EQ(judged(), "");
  }
}

TEST_F(SentRules, WantAtMostTwoPercentOfTheBus) {
  // A frame of eight bytes fills a bus of 500 kbit/s for some 230 µs: two percent is one each 12 ms or so.
  const auto every = [&](Duration gap) {
    trace_ = {};
    for (int i = 0; i < 1500; ++i) send(single(unit_, {0x01, 0x0C}, TimePoint{10s + i * gap}));
  };
  every(14ms);
  EXPECT_EQ(judged(), "");
  every(9ms);
  expect(kManners, "more than 2 % of the bus in ten seconds");
}

}  // namespace
}  // namespace sumplog::hostile
