// The verdict of a level check, and what is said before it, where fault codes speak against the unit.
#include "core/job/level_verdict.h"
#include "core/job/verdict_fixture.h"

namespace sumplog::testing {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;

TEST_F(VerdictTest, ASensorCode) {
  ready();
  codes({CodeLine{"P0711-1F", {"confirmed"}, "07111F08", "", "invalidates the level check", ""}});
  check();
  EXPECT_THAT(why(),
              ElementsAre("fault code P0711-1F in 7E9: the fluid temperature may be invented; use a second "
                          "thermometer"));
}

TEST_F(VerdictTest, CodesThatNobodyRead) {
  use();
  soak();
  confirm();
  warm_up_with_cycle();
  check();
  EXPECT_THAT(why(), ElementsAre("fault codes of the unit that gives the temperature were not read"));
}

TEST_F(VerdictTest, CodesThatWereReadTooLongBefore) {
  // Common practice, no source: fifteen minutes, where the service file says nothing.
  ready();
  Car steady;
  steady.c_per_min = 0.1;
  drive(840s, steady);
  check();
  EXPECT_THAT(why(), ElementsAre(HasSubstr("before plug out, more than 15 min"))) << "read at the start";
  codes();
  check();
  EXPECT_THAT(why(), IsEmpty());
}

TEST_F(VerdictTest, TheServiceFileSaysHowLongCodesCount) {
  service_.codes_read = invented(Duration{60s});
  ready();
  check();
  EXPECT_THAT(why(), ElementsAre(HasSubstr("before plug out, more than 60 s")));
}

TEST_F(VerdictTest, ACodeEndsMayStartAtOnce) {
  ready();
  ASSERT_EQ(last<CheckEvent>().state, CheckState::may_start);
  codes({CodeLine{"P0711-1F", {"confirmed"}, "07111F08", "", "invalidates the level check", ""}});
  EXPECT_EQ(last<CheckEvent>().at, now_);
  EXPECT_EQ(last<CheckEvent>().state, CheckState::not_yet);
}

// --- a second thermometer ---

TEST_F(VerdictTest, ASensorCodeIsMetByReadingsByHandAtBothEnds) {
  ready();
  codes({CodeLine{"P0711-1F", {"confirmed"}, "07111F08", "", "invalidates the level check", ""}});
  read_by_hand(38);
  entry("plug_out");
  drive(60s);
  read_by_hand(39);
  entry("plug_in");
  EXPECT_THAT(why(), IsEmpty());
  EXPECT_TRUE(verdict().kept);
  EXPECT_EQ(verdict().thermometer, Quality::by_hand) << "although the unit answered all the time";
}

TEST_F(VerdictTest, ASensorCodeIsNotMetByOneReadingByHand) {
  ready();
  codes({CodeLine{"P0711-1F", {"confirmed"}, "07111F08", "", "invalidates the level check", ""}});
  read_by_hand(38);
  check(90s);
  EXPECT_FALSE(verdict().kept);
  EXPECT_EQ(verdict().thermometer, Quality::measured);
}

// The unit invents 47 °C and answers all the time; the fluid is where the second thermometer says.
TEST_F(VerdictTest, ASecondThermometerCountsAloneAgainstASensorCode) {
  ready();
  codes({CodeLine{"P0711-1F", {"confirmed"}, "07111F08", "", "invalidates the level check", ""}});
  EXPECT_EQ(last<CheckEvent>().state, CheckState::not_yet);
  warm(47);
  EXPECT_EQ(last<CheckEvent>().state, CheckState::stop);
  Car invented_value;
  invented_value.c_per_min = 0;
  read_by_hand(38);
  EXPECT_EQ(state(), WindowState::inside);
  EXPECT_THAT(last<CheckEvent>().why, IsEmpty());
  EXPECT_EQ(last<CheckEvent>().state, CheckState::may_start);
  entry("plug_out");
  for (int i = 0; i < 3; ++i) {
    drive(20s, invented_value);
    read_by_hand(38);
    EXPECT_EQ(last<ThermalEvent>().window, WindowState::inside);
    EXPECT_EQ(last<CheckEvent>().state, CheckState::may_start);
  }
  entry("plug_in");
  EXPECT_THAT(why(), IsEmpty());
  EXPECT_EQ(verdict().thermometer, Quality::by_hand);
  EXPECT_EQ(verdict().temp_out_c, 38);
  EXPECT_EQ(verdict().temp_in_c, 38);
  EXPECT_EQ(verdict().temp_high_c, 38);
  drive(70s, invented_value);
  EXPECT_EQ(last<CheckEvent>().state, CheckState::stop) << "nobody reads the second thermometer any more";
}

}  // namespace
}  // namespace sumplog::testing
