#include "core/asker/plan.h"

#include <algorithm>

#include "core/asker/asker_fixture.h"

namespace sumplog::asker_test {
namespace {

class PlanTest : public AskerTest {
 protected:
  /// One unit that says of every range that it has these PIDs, and answers them with two bytes each.
  void engine_has(std::vector<int> pids) {
    answers_ = [all = std::move(pids)](const Request& request) -> std::vector<Answer> {
      const Bytes& p = request.payload;
      if (p[0] != 0x01) return {};
      if (p.size() == 2 && p[1] % 0x20 == 0) return {{kEngineVoice, support_answer(p[1], all)}};
      if (request.to != kEngine) return {};
      Bytes answer{0x41};
      for (std::size_t i = 1; i < p.size(); ++i) {
        answer.push_back(p[i]);
        answer.insert(answer.end(), p[i] == 0x0C ? 2 : 1, 0x40);
      }
      return {{kEngineVoice, answer}};
    };
  }
  /// A decoder that reads these PIDs once a second.
  static std::vector<Decoder> reads(const std::vector<int>& pids,
                                    const std::optional<std::string>& unit = {}) {
    Decoder decoder;
    decoder.id = "test";
    decoder.units = {unit_at("engine", 0x7E0, 0x7E8)};
    for (const int pid : pids) {
      decoder.signals.push_back(pid_signal("s" + std::to_string(pid), static_cast<std::uint8_t>(pid), 1s));
      decoder.signals.back().unit_id = unit;
    }
    return {decoder};
  }
  /// Requests to the engine alone that hold this parameter among others.
  [[nodiscard]] std::size_t together_with_others(std::uint8_t pid) const {
    std::size_t count = 0;
    for (const Sent& one : sent_to(kEngine)) {
      const Bytes& p = one.request.payload;
      count += p.size() > 2 && std::find(p.begin() + 1, p.end(), pid) != p.end() ? 1 : 0;
    }
    return count;
  }
};

// --- which unit, and which ranges ---

TEST_F(AskerTest, AnIdentifierThatTwoUnitsHaveIsReadFromTheOneThatAnsweredFirst) {
  auto decoders = two_units();
  decoders[0].signals.push_back(did_signal("odometer", 0x1A10, 1s));
  decoders[0].signals.back().unit_id.reset();
  answers_ = [this](const Request& request) -> std::vector<Answer> {
    if (request.payload == Bytes{0x22, 0x1A, 0x10})
      return {{kGearboxVoice, {0x62, 0x1A, 0x10, 0x01}}, {kEngineVoice, {0x62, 0x1A, 0x10, 0x02}, 20ms}};
    return well_behaved(request);
  };
  start(decoders);
  run_for(5s);
  EXPECT_GE(count("7E1 221A10"), 3U);
  EXPECT_EQ(count("7E0 221A10"), 0U);
}

TEST_F(PlanTest, AParameterOfTheLastRangeFindsItsUnitAndNothingIsAskedBehindIt) {
  // It never did: 01 E0 was asked, and what it told was thrown away.
  engine_has({0x20, 0x40, 0x60, 0x80, 0xA0, 0xC0, 0xE0, 0xE5, 0x100});
  start(reads({0xE5}));
  run_for(10s);
  EXPECT_EQ(count("7DF 01E0"), 1U);
  EXPECT_GE(count("7E0 01E5"), 5U);
  EXPECT_EQ(count("7DF 0100"), 1U) << "behind FF the bytes begin again";
}

TEST_F(PlanTest, AParameterThatItsUnitSaysItDoesNotHaveIsNotAskedAgain) {
  engine_has({0x05, 0x0C});
  start(reads({0x05, 0x0C, 0x1F}, "engine"));
  run_for(10s);
  EXPECT_EQ(why_not("01 1F of 7E0"), "the unit says that it does not have this");
  EXPECT_LE(count("7E0 011F"), 1U) << "before the unit has said so";
  EXPECT_EQ(together_with_others(0x1F), 0U);
  EXPECT_GE(together_with_others(0x0C), 5U);
}

TEST_F(PlanTest, AParameterOfARangeThatTheUnitDoesNotTellOfIsAskedAlone) {
  engine_has({0x05, 0x0C});
  start(reads({0x05, 0x0C, 0x2F}, "engine"));
  run_for(10s);
  EXPECT_EQ(count("7DF 0120"), 0U);
  EXPECT_GE(count("7E0 012F"), 5U);
  EXPECT_EQ(together_with_others(0x2F), 0U);
  EXPECT_GE(together_with_others(0x0C), 5U);
}

TEST_F(PlanTest, AUnitThatDoesNotSayWhatItHasIsAskedForEachParameterAlone) {
  // It may be that it has only one of them; then it would keep silent to both.
  engine_has({});
  auto told = answers_;
  answers_ = [told](const Request& request) -> std::vector<Answer> {
    if (request.to == kAll && request.payload == Bytes{0x01, 0x00})
      return {{kGearboxVoice, support_answer(0, {0x0D})}};
    return request.to == kEngine ? told(request) : std::vector<Answer>{};
  };
  start(reads({0x05, 0x0C}, "engine"));
  run_for(10s);
  EXPECT_GE(count("7E0 0105"), 5U);
  EXPECT_GE(count("7E0 010C"), 5U);
  EXPECT_EQ(together_with_others(0x0C), 0U);
}

TEST_F(PlanTest, AParameterWhoseLengthNobodyKnowsIsAskedAlone) {
  // Its answer could not be told from what stands behind it.
  engine_has({0x05, 0x0C, 0x20, 0x40, 0x60, 0x7C});
  start(reads({0x05, 0x0C, 0x7C}));
  run_for(10s);
  EXPECT_GE(count("7E0 017C"), 5U);
  EXPECT_EQ(together_with_others(0x7C), 0U);
  EXPECT_GE(together_with_others(0x0C), 5U);
}

TEST_F(PlanTest, APollPeriodOfZeroIsNeverAsked) {
  engine_has({0x0C});
  auto decoders = reads({0x0C});
  decoders[0].signals[0].poll_period = Duration::zero();
  start(decoders);
  run_for(5s);
  EXPECT_TRUE(sent_to(kEngine).empty());
}

// --- what units say of themselves ---

TEST_F(PlanTest, AUnitThatHasANameAndDoesNotTellItIsAskedThreeTimes) {
  // SAE J1979 service 09: 00 tells which InfoTypes there are, first bit 01; 0A is the name.
  bool gearbox_tells = false;
  answers_ = [&](const Request& request) -> std::vector<Answer> {
    const Bytes& p = request.payload;
    const Bytes name_only{0x49, 0x00, 0x00, 0x40, 0x00, 0x00};
    if (p == Bytes{0x09, 0x00}) return {{kEngineVoice, name_only}, {kGearboxVoice, name_only, 20ms}};
    if (p != Bytes{0x09, 0x0A}) return well_behaved(request);
    std::vector<Answer> names{{kEngineVoice, Bytes(23, 0x49)}};
    names[0].payload[1] = 0x0A;
    if (gearbox_tells) names.push_back({kGearboxVoice, names[0].payload, 20ms});
    return names;
  };
  start(two_units());
  run_for(300s);
  EXPECT_EQ(count("7DF 090A"), 3U);
  gearbox_tells = true;
  sent_.clear();
  start(two_units());
  run_for(300s);
  EXPECT_EQ(count("7DF 090A"), 1U);
  EXPECT_EQ(count("7DF 0904") + count("7DF 0906"), 0U) << "no unit has these";
}

TEST_F(PlanTest, WithEachKindOfIdentifierIsAskedWhatItsOwnUnitsHave) {
  // Who is there: a unit with 11 bits has PIDs up to 40 and a name, one with 29 bits only those up to 20, and calibrations.
  const Endpoint long_voice = at(extended_id(0x18DAF110));
  answers_ = [&](const Request& request) -> std::vector<Answer> {
    const Bytes& p = request.payload;
    const bool all29 = request.to.id == extended_id(0x18DB33F1);
    if (request.to != kAll && !all29) return {};
    const Endpoint& voice = all29 ? long_voice : kEngineVoice;
    if (p[0] == 0x01 && p[1] % 0x20 == 0) return {{voice, support_answer(p[1], {0x0C, all29 ? 0x0D : 0x20})}};
    if (p == Bytes{0x09, 0x00})
      return {{voice,
               {0x49, 0x00, Bytes::value_type(all29 ? 0x10 : 0), Bytes::value_type(all29 ? 0 : 0x40), 0, 0}}};
    return {};
  };
  AskerSettings settings{kBus};
  settings.purpose = PlanPurpose::who;
  start(two_units(), settings);
  run_for(60s);
  EXPECT_EQ(count("7DF 0120"), 1U);
  EXPECT_EQ(count("18DB33F1 0120"), 0U);
  EXPECT_GE(count("7DF 090A"), 1U);
  EXPECT_EQ(count("18DB33F1 090A"), 0U);
  EXPECT_GE(count("18DB33F1 0904"), 1U);
  EXPECT_EQ(count("7DF 0904"), 0U);
}

TEST_F(PlanTest, AListOfInfoTypesThatIsCutShortTellsOfNone) {
  answers_ = [this](const Request& request) -> std::vector<Answer> {
    if (request.payload == Bytes{0x09, 0x00}) return {{kEngineVoice, {0x49, 0x00, 0xFF, 0xFF}}};
    return well_behaved(request);
  };
  start(two_units());
  run_for(20s);
  EXPECT_EQ(count("7DF 0904") + count("7DF 0906") + count("7DF 090A"), 0U);
}

TEST_F(PlanTest, WhatWasAnsweredLateIsNotDeniedByARefusal) {
  // The answer comes after the question was given up and asked again; the refusal may be meant for another tester.
  int asked = 0;
  answers_ = [&](const Request& request) -> std::vector<Answer> {
    if (request.payload != Bytes{0x22, 0x1A, 0x05}) return well_behaved(request);
    if (++asked == 1) return {{kGearboxVoice, {0x62, 0x1A, 0x05, 0x4B}, 300ms}};
    return {{kGearboxVoice, {0x7F, 0x22, 0x31}}};
  };
  AskerSettings settings{kBus};
  settings.purpose = PlanPurpose::who;
  start(two_units(), settings);
  for (int i = 0; i < 60 && !asker_->finished(); ++i) run_for(1s);
  EXPECT_TRUE(asker_->finished());
  EXPECT_GE(asked, 2);
  EXPECT_EQ(why_not("22 1A05 of 7E1"), "");
}

TEST_F(PlanTest, AnAnswerToAllWithLongIdentifiersThatComesLateIsOneToThatQuestion) {
  const Endpoint long_voice = at(extended_id(0x18DAF110));
  bool late = true;
  answers_ = [&](const Request& request) -> std::vector<Answer> {
    if (request.to.id != extended_id(0x18DB33F1)) return {};
    if (request.payload == Bytes{0x01, 0x20}) return {{long_voice, support_answer(0x20, {0x2F})}};
    if (request.payload != Bytes{0x01, 0x00} || !std::exchange(late, false)) return {};
    return {{long_voice, support_answer(0, {0x0C, 0x20}), 200ms}};
  };
  AskerSettings settings{kBus};
  settings.purpose = PlanPurpose::who;
  start(two_units(), settings);
  run_for(20s);
  EXPECT_EQ(count("18DB33F1 0120"), 1U);
}

TEST_F(PlanTest, AJobIsNeverFinished) {
  answers_ = [this](const Request& request) -> std::vector<Answer> {
    if (request.payload == Bytes{0x09, 0x00}) return {{kEngineVoice, {0x49, 0x00, 0, 0, 0, 0}}};
    return well_behaved(request);
  };
  start({});
  run_for(5s);
  EXPECT_EQ(count("7DF 0100") + count("7DF 0902") + count("7DF 0900"), 3U) << "everything was asked";
  EXPECT_FALSE(asker_->finished());
}

// --- by itself ---

class PlanAlone : public ::testing::Test {
 protected:
  static Task of_scan(TaskKind kind, Bytes question, std::uint32_t id, std::optional<Endpoint> target,
                      std::optional<bool> extended) {
    Task task;
    task.kind = kind;
    task.question = std::move(question);
    task.id = id;
    task.target = target;
    task.extended = extended;
    task.of_scan = true;
    return task;
  }
  [[nodiscard]] std::size_t count(TaskKind kind, std::uint32_t id) const {
    return static_cast<std::size_t>(
        std::count_if(plan_->tasks().begin(), plan_->tasks().end(),
                      [&](const Task& task) { return task.kind == kind && task.id == id; }));
  }
  void start(const std::vector<Signal>& signals, PlanPurpose purpose = PlanPurpose::job) {
    Decoder decoder;
    decoder.units = {unit_at("gearbox", 0x7E1, 0x7E9), unit_at("engine", 0x7E0, 0x7E8)};
    decoder.signals = signals;
    book_.emplace(named_units({decoder}));
    plan_.emplace(std::vector{decoder}, kBus, kUsualReadingsPerSecond, purpose, TimePoint{});
  }
  [[nodiscard]] const Task& last() const { return plan_->tasks().back(); }

  std::optional<AddressBook> book_;
  std::optional<Plan> plan_;
};

TEST_F(PlanAlone, QuestionsOfAScanThatDifferInOneThingAreDifferentOnes) {
  start({});
  const std::size_t before = plan_->tasks().size();
  const Task one = of_scan(TaskKind::codes, {0x03}, 0, std::nullopt, false);
  plan_->add_of_scan(one);
  plan_->add_of_scan(one);
  EXPECT_EQ(plan_->tasks().size(), before + 1) << "asked by an earlier scan";
  plan_->add_of_scan(of_scan(TaskKind::group, {0x03}, 0, std::nullopt, false));
  plan_->add_of_scan(of_scan(TaskKind::codes, {0x07}, 0, std::nullopt, false));
  plan_->add_of_scan(of_scan(TaskKind::codes, {0x03}, 0xFECA, std::nullopt, false));
  plan_->add_of_scan(of_scan(TaskKind::codes, {0x03}, 0, kEngine, false));
  plan_->add_of_scan(of_scan(TaskKind::codes, {0x03}, 0, std::nullopt, true));
  EXPECT_EQ(plan_->tasks().size(), before + 6);
  EXPECT_EQ(plan_->open_of_scan(), 6U);
}

TEST_F(PlanAlone, SignalsOfOneIdentifierAreOneQuestionAndOfAnotherUnitOrServiceAnotherOne) {
  const Signal slow = did_signal("fluid_temperature", 0x1A, 2s);
  const Signal fast = did_signal("x_raw", 0x1A, 500ms);
  Signal local = did_signal("x_local", 0x1A, 1s);
  local.source = DidSource{0x21, 0x1A};
  Signal parameter = pid_signal("x_parameter", 0x1A, 1s);
  parameter.unit_id = "gearbox";
  start({slow, fast, did_signal("x_engine", 0x1A, 1s, "engine"), local, parameter});
  EXPECT_EQ(count(TaskKind::identifier, 0x1A), 3U);
  EXPECT_EQ(count(TaskKind::parameter, 0x1A), 1U);
  const auto first = std::find_if(plan_->tasks().begin(), plan_->tasks().end(),
                                  [](const Task& task) { return task.id == 0x1A; });
  EXPECT_EQ(first->period, 500ms) << "as often as the faster one wants it";
}

TEST_F(PlanAlone, AParameterThatListsTheOthersIsReadBesideTheQuestionWhatThereIs) {
  // SAE J1979: parameter 00, which a decoder may name as a signal.
  start({pid_signal("x_bitmap", 0x00, 1s)});
  EXPECT_EQ(count(TaskKind::support, 0), 1U);
  EXPECT_EQ(count(TaskKind::parameter, 0), 1U);
}

TEST_F(PlanAlone, WhatUnitsTellOfThemselvesIsAskedWithEachKindOfIdentifierAndKnownOfEach) {
  start({}, PlanPurpose::who);
  const Endpoint long_voice = at(extended_id(0x18DAF110));
  const Bytes name{0x49, 0x00, 0, 0x40, 0, 0};
  plan_->on_information_support(kEngineVoice, name);
  plan_->on_information_support(long_voice, name);
  plan_->on_information_known(false, TimePoint{});
  plan_->on_information_known(true, TimePoint{});
  EXPECT_EQ(count(TaskKind::information, 0x0A), 2U);
  plan_->on_information(kEngineVoice, 0x0A);
  EXPECT_TRUE(plan_->informed(0x0A, false));
  EXPECT_FALSE(plan_->informed(0x0A, true)) << "the other one has not told it";
  EXPECT_FALSE(plan_->informed(0x0A, std::nullopt));
}

TEST_F(PlanAlone, WhyAParameterIsNotAskedStaysAsItWasSaidFirst) {
  Signal parameter = pid_signal("engine_speed", 0x0C, 1s);
  parameter.unit_id = "engine";
  start({parameter});
  plan_->tasks().back().state = TaskState::denied;
  plan_->tasks().back().why = "the unit denies access to it";
  plan_->on_support(kEngineVoice, support_answer(0, {0x05}));
  plan_->on_range_known(*book_, 0, std::nullopt, TimePoint{});
  EXPECT_EQ(last().why, "the unit denies access to it");
}

TEST_F(PlanAlone, AUnitThatNobodyCanAskIsNotTheOneThatHasAParameter) {
  start({pid_signal("engine_speed", 0x0C, 1s)});
  plan_->on_support(at(standard_id(0x123)), support_answer(0, {0x0C}));
  plan_->on_range_known(*book_, 0, std::nullopt, TimePoint{});
  EXPECT_EQ(last().state, TaskState::waiting);
  plan_->on_support(kEngineVoice, support_answer(0, {0x0C}));
  plan_->on_range_known(*book_, 0, std::nullopt, TimePoint{});
  EXPECT_EQ(last().state, TaskState::active);
  EXPECT_EQ(last().target, kEngine);
}

}  // namespace
}  // namespace sumplog::asker_test
