#include "app/watch_view.h"

#include <gmock/gmock.h>

#include <cstdlib>
#include <ctime>

#include "core/journal/wrapped_text.h"

namespace sumplog {
namespace {

using ::testing::ElementsAre;
using ::testing::EndsWith;
using ::testing::IsEmpty;
using ::testing::SizeIs;

constexpr char kBelow[] =
    R"({"t":100.000000,"kind":"thermal","temp_c":30.24,"rate_c_per_min":2.20,"window":"below","enter_in_s":[290.0,327.0,370.0],"stay_s":[400.0,468.0,null]})";

class WatchOfAJob : public testing::Test {
 protected:
  void SetUp() override {
    setenv("TZ", "UTC", 1);
    tzset();
  }
};

/// The rows of an event without their time of day.
std::vector<std::string> told(WatchView& view, const char* line) {
  std::vector<std::string> rows = view.on_line(line);
  for (std::string& row : rows) row = row.substr(10);
  return rows;
}

TEST_F(WatchOfAJob, TellsWhatIsNow) {
  WatchView view;
  EXPECT_THAT(view.on_line(kBelow), IsEmpty());
  EXPECT_THAT(
      view.on_line(
          R"({"t":100.1,"kind":"check","state":"not yet","why":["fluid is below the window","selector is not in P"],"advice":"Idle in P."})"),
      ElementsAre("00:01:40  -- level check: not yet: fluid is below the window (+1)",
                  "00:01:40     Idle in P."));
  EXPECT_EQ(view.status(100.6),
            "30.2 °C below; check not yet: fluid is …; starts in 5:27; 2.2 °C/min; 0.6 s old");
  EXPECT_LE(columns_of(view.status(100.6)), kColumns);
  EXPECT_EQ(view.check(100.6), "not yet");
}

TEST_F(WatchOfAJob, NeverShowsAnOldNumber) {
  WatchView view;
  EXPECT_EQ(view.status(0), "no live reading");
  (void)view.on_line(kBelow);
  EXPECT_EQ(view.status(102.1), "no live reading");
  EXPECT_EQ(view.check(102.1), "");
  (void)view.on_line(R"({"t":103.000000,"kind":"thermal","window":"unknown","why":"no answer"})");
  EXPECT_EQ(view.status(103.2), "no live reading: no answer");
}

TEST_F(WatchOfAJob, AReadingByHandIsMarkedAndIsAsOldAsItIs) {
  WatchView view;
  constexpr char kByHand[] =
      R"({"t":100.000000,"kind":"thermal","temp_c":41.32,"window":"inside","quality":"by hand"})";
  (void)view.on_line(kByHand);
  EXPECT_EQ(view.status(100.1), "no live reading") << "what was read is not known here";
  (void)view.on_line(
      R"({"t":90.000000,"kind":"reading","bus":"can0","signal":"fluid_temperature","value":41.0,"unit":"degC","ecu":"by hand","quality":"by hand"})");
  (void)view.on_line(
      R"({"t":99.900000,"kind":"reading","bus":"can0","signal":"fluid_temperature","value":80,"unit":"degC","ecu":"7E9","quality":"measured"})");
  (void)view.on_line(R"({"t":100.1,"kind":"check","state":"may start"})");
  EXPECT_EQ(view.status(100.6), "41.0 °C by hand, inside; check may start; 10.6 s old");
  EXPECT_EQ(view.status(102.1), "no live reading");
}

TEST_F(WatchOfAJob, InFahrenheitAPointADifferenceAndARateAreConvertedDifferently) {
  WatchView view(true);
  (void)view.on_line(kBelow);
  (void)view.on_line(R"({"t":100.1,"kind":"check","state":"may start"})");
  EXPECT_EQ(view.status(100.6), "86.4 °F below; check may start; starts in 5:27; 4.0 °F/min; 0.6 s old");
  EXPECT_THAT(
      told(
          view,
          R"({"t":1,"kind":"verdict","conditions":"kept","thermometer":"measured","temp_out_c":36.0,"temp_in_c":39.5})"),
      ElementsAre("== level check: conditions kept; plug out at 96.8 °F, in at 103.1 °F"));
  EXPECT_THAT(
      told(view, R"({"t":1,"kind":"cue","name":"cold","text":"cold enough to begin: fluid below 30 °C"})"),
      ElementsAre("** cold enough to begin: fluid below 86 °F"));
  EXPECT_THAT(
      told(view, R"({"t":1,"kind":"entry","id":"e","name":"fluid_out","fields":{"litres":4.5,"temp_c":38}})"),
      ElementsAre("entry: fluid_out: litres 4.5, temp 100.4 °F"));
  EXPECT_THAT(told(view, R"({"t":1,"kind":"entry","id":"e","name":"note","fields":{"text":"bay at 30 °C"}})"),
              ElementsAre("entry: note: bay at 30 °C"))
      << "what a person wrote stays as it was written";
}

TEST_F(WatchOfAJob, NoLineIsLongerThanATerminalIsWideNorObeyedAndNothingOfAnEventIsLost) {
  WatchView view;
  (void)view.on_line(kBelow);
  const auto rows = view.on_line(
      R"({"t":1,"kind":"check","state":"stop","why":["Wörter Wörter Wörter Wörter Wörter Wörter Wörter Wörter Wörter Wörter Wörter Ende"]})");
  ASSERT_THAT(rows, SizeIs(2));
  EXPECT_THAT(rows.back(), EndsWith("Ende"));
  for (const std::string& row : rows) EXPECT_LE(columns_of(row), kColumns) << row;
  EXPECT_LE(columns_of(view.status(100)), kColumns);
  const auto unbroken =
      view.on_line((R"({"t":1,"kind":"cue","text":")" + std::string(200, 'x') + "\"}").c_str());
  for (const std::string& row : unbroken) EXPECT_LE(columns_of(row), kColumns) << row;
  EXPECT_THAT(told(view, "{\"t\":1,\"kind\":\"cue\",\"text\":\"\\u001b[2Jgone\"}"),
              ElementsAre("**  [2Jgone"));
}

TEST_F(WatchOfAJob, TakesWhatItDoesNotKnow) {
  WatchView view;
  for (const char* const line :
       {"", "{", "[]", "7", R"({"kind":7})", R"({"t":"x","kind":"thermal","temp_c":"y"})",
        R"({"kind":"codes","codes":[1,null]})", R"({"t":1,"kind":"something later"})"})
    (void)view.on_line(line);
  EXPECT_EQ(view.status(0), "no live reading");
}

}  // namespace
}  // namespace sumplog
