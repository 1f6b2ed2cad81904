#include "core/asker/asker_fixture.h"

namespace sumplog::asker_test {
namespace {

class AskerThatScans : public AskerTest {
 protected:
  /// The whole of the vehicle is known, and the scan has begun.
  void begin_scan() {
    AskerSettings settings{kBus};
    settings.purpose = PlanPurpose::who;
    start(two_units(), settings);
    for (int i = 0; i < 60 && !asker_->finished(); ++i) run_for(1s);
    ASSERT_TRUE(asker_->finished());
    asker_->on_scan_begun(now_);
  }
};

TEST_F(AskerThatScans, TellsHowFarItIsAndIsNotFinishedBefore) {
  begin_scan();
  EXPECT_FALSE(asker_->finished());
  EXPECT_EQ(asker_->scan_progress(), (std::pair<std::size_t, std::size_t>{0, 0}));
  run_for(2s);
  const auto [done, known] = asker_->scan_progress();
  EXPECT_GT(done, 0U);
  EXPECT_GT(known, done);
  EXPECT_FALSE(asker_->scan_over());
  run_for(60s);
  EXPECT_TRUE(asker_->scan_over());
  EXPECT_TRUE(asker_->finished());
  EXPECT_EQ(asker_->scan_progress().first, asker_->scan_progress().second);
  EXPECT_GE(asker_->scan_progress().second, 16U) << "eight questions to all, one to each identifier";
}

TEST_F(AskerThatScans, EndsWhenTheIgnitionIsSwitchedOff) {
  // With 29 bits there are 255 addresses to be asked: long enough to see that nobody answers any more.
  answers_ = [](const Request& request) -> std::vector<Answer> {
    const Endpoint voice = at(extended_id(0x18DAF110));
    if (request.payload == Bytes{0x01, 0x00} && request.to.id.extended)
      return {{voice, support_answer(0, {0x0C})}};
    if (request.to.id == extended_id(0x18DA10F1)) return {{voice, {0x41, 0x0C, 0x10, 0x00}}};
    return {};
  };
  start(two_units());
  run_for(5s);
  asker_->on_scan_begun(now_);
  run_for(2s);
  EXPECT_FALSE(asker_->scan_over());
  answers_ = [](const Request&) { return std::vector<Answer>{}; };
  run_for(60s);
  EXPECT_TRUE(asker_->scan_over());
  const auto left = asker_->not_asked();
  EXPECT_TRUE(
      std::any_of(left.begin(), left.end(), [](const auto& one) { return one.why == "no unit answers"; }));
  EXPECT_EQ(count("18DAFFF1 1901AF"), 0U) << "nor is the rest of the addresses asked";
}

TEST_F(AskerThatScans, EndsAfterFiveMinutesWhateverUnitsStillSay) {
  // Each unit says "pending" for as long as anybody waits, and there are 255 addresses of 29 bits.
  answers_ = [](const Request& request) -> std::vector<Answer> {
    const Endpoint voice = at(extended_id(0x18DAF110));
    if (request.payload == Bytes{0x01, 0x00} && request.to.id.extended)
      return {{voice, support_answer(0, {0x0C})}};
    if (request.payload[0] != 0x19 || request.to.id == standard_id(0x7DF)) return {};
    std::vector<Answer> pending;
    const Endpoint unit = at(extended_id(0x18DAF100 | (request.to.id.value >> 8 & 0xFF)));
    for (int i = 0; i < 40; ++i) pending.push_back({unit, {0x7F, 0x19, 0x78}, 40ms + i * 2s});
    return pending;
  };
  begin_scan();
  run_for(290s);
  EXPECT_FALSE(asker_->scan_over());
  run_for(20s);
  EXPECT_TRUE(asker_->scan_over());
  EXPECT_GT(asker_->scan_progress().second, 20U);
  const auto left = asker_->not_asked();
  EXPECT_TRUE(std::any_of(left.begin(), left.end(),
                          [](const auto& one) { return one.why == "the scan took too long"; }));
}

TEST_F(AskerThatScans, UnitsOfAnotherBusAreNotAskedForTheirCodes) {
  start(two_units());
  run_for(2s);
  Exchange elsewhere;
  elsewhere.request = {BusName("can1"), standard_id(0x7E2), std::nullopt};
  elsewhere.unit = Endpoint{BusName("can1"), standard_id(0x7EA), std::nullopt};
  elsewhere.asked = {0x01, 0x00};
  elsewhere.response = support_answer(0, {0x0C});
  elsewhere.result = ExchangeResult::answered;
  asker_->on_exchange(elsewhere);
  asker_->on_scan_begun(now_);
  run_for(30s);
  ASSERT_TRUE(asker_->scan_over());
  EXPECT_EQ(count("7E2 03"), 0U);
}

}  // namespace
}  // namespace sumplog::asker_test
