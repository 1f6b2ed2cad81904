#include "app/watch_view.h"

#include <gmock/gmock.h>

#include "core/journal/wrapped_text.h"

namespace sumplog {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;
using ::testing::StartsWith;

constexpr char kBelow[] =
    R"({"t":100.000000,"kind":"thermal","temp_c":30.24,"rate_c_per_min":2.20,"window":"below","enter_in_s":[290.0,327.0,370.0],"stay_s":[400.0,468.0,null]})";

TEST(WatchView, TellsWhatIsNow) {
  WatchView view;
  EXPECT_EQ(view.on_line(kBelow), "");
  EXPECT_THAT(
      view.on_line(
          R"({"t":100.1,"kind":"check","state":"not yet","why":["fluid is below the window","selector is not in P"]})"),
      StartsWith("level check: not yet: fluid is below the window; selector"));
  EXPECT_EQ(view.status(100.6),
            "30.2 °C below; check not yet: fluid is …; starts in 5:27; 2.2 °C/min; 0.6 s old");
  EXPECT_LE(columns_of(view.status(100.6)), kColumns);
  EXPECT_EQ(view.check(100.6), "not yet");
}

TEST(WatchView, NeverShowsAnOldNumber) {
  WatchView view;
  EXPECT_EQ(view.status(0), "no live reading");
  (void)view.on_line(kBelow);
  EXPECT_EQ(view.status(102.1), "no live reading");
  EXPECT_EQ(view.check(102.1), "");
  (void)view.on_line(R"({"t":103.000000,"kind":"thermal","window":"unknown","why":"no answer"})");
  EXPECT_EQ(view.status(103.2), "no live reading: no answer");
}

TEST(WatchView, NoLineIsLongerThanATerminalIsWideNorObeyed) {
  WatchView view;
  (void)view.on_line(kBelow);
  const std::string longest = view.on_line(
      R"({"t":1,"kind":"check","state":"stop","why":["Wörter Wörter Wörter Wörter Wörter Wörter Wörter Wörter Wörter Wörter Wörter Wörter"]})");
  EXPECT_LE(columns_of(longest), kColumns);
  EXPECT_LE(columns_of(view.status(100)), kColumns);
  EXPECT_THAT(view.on_line("{\"t\":1,\"kind\":\"cue\",\"text\":\"\\u001b[2Jgone\"}"), Not(HasSubstr("\x1b")));
}

TEST(WatchView, TakesWhatItDoesNotKnow) {
  WatchView view;
  for (const char* const line :
       {"", "{", "[]", "7", R"({"kind":7})", R"({"t":"x","kind":"thermal","temp_c":"y"})",
        R"({"kind":"codes","codes":[1,null]})"})
    (void)view.on_line(line);
  EXPECT_EQ(view.status(0), "no live reading");
  EXPECT_EQ(view.on_line(R"({"t":1,"kind":"something later"})"), "something later");
}

TEST(EventLines, ComeOutOfAnyPieces) {
  const std::string stream =
      "retry: 1000\n\nid: 4\ndata: {\"a\":1}\n\n: comment\n\nid: 5\ndata: {}\n\nid: 6\n";
  for (std::size_t cut = 0; cut <= stream.size(); ++cut) {
    EventLines lines;
    std::vector<std::uint64_t> ids;
    for (const std::string& piece : {stream.substr(0, cut), stream.substr(cut)}) {
      lines.on_bytes(piece);
      while (const auto one = lines.next()) ids.push_back(one->id);
    }
    EXPECT_EQ(ids, (std::vector<std::uint64_t>{4, 5})) << cut;
  }
}

}  // namespace
}  // namespace sumplog
