#include "core/learn/seen_text.h"

#include <gtest/gtest.h>

namespace sumplog {
namespace {

using namespace std::chrono_literals;

constexpr TimePoint kBegin{10h};

Result<SeenTemperature> parse(const std::string& text) {
  return parse_seen(text, kBegin, [](const TimeOfDay& clock) {
    return TimePoint{std::chrono::hours{clock.hour} + std::chrono::minutes{clock.minute} +
                     Duration{static_cast<std::int64_t>(clock.second * 1e6)}};
  });
}

TEST(SeenText, ReadsTemperatureTimeAndError) {
  const auto seen = parse("36.0@10:02:10±1");
  ASSERT_TRUE(seen) << seen.error().text();
  EXPECT_EQ(seen->temp_c, 36);
  EXPECT_EQ(seen->at, TimePoint{10h + 2min + 10s});
  EXPECT_EQ(seen->error_c, 1);
  EXPECT_EQ(parse("-4.5@10:02+-0.5")->error_c, 0.5);
  EXPECT_EQ(parse("-4.5@10:02")->temp_c, -4.5);
  EXPECT_EQ(parse("20@10:02")->error_c, SeenTemperature::kUsualError_c);
  EXPECT_EQ(parse("20@+130.5±2")->at, TimePoint{kBegin + 130'500ms});
}

TEST(SeenText, SaysWhatIsWrongAndShowsHowItIsWritten) {
  for (const auto& [text, why] : std::vector<std::pair<std::string, std::string>>{
           {"36", "no time"},
           {"x@10:00:00", "the temperature is no number of °C from -60 to 200"},
           {"360@10:00:00", "the temperature is no number of °C from -60 to 200"},
           {"36@25:00:00", "the time is neither hours:minutes:seconds nor +seconds"},
           {"36@-1:00:00", "the time is neither hours:minutes:seconds nor +seconds"},
           {"36@10.5:00:00", "the time is neither hours:minutes:seconds nor +seconds"},
           {"36@10:60:00", "the time is neither hours:minutes:seconds nor +seconds"},
           {"36@10:-1:00", "the time is neither hours:minutes:seconds nor +seconds"},
           {"36@10:0.5:00", "the time is neither hours:minutes:seconds nor +seconds"},
           {"36@10:00:60", "the time is neither hours:minutes:seconds nor +seconds"},
           {"36@10:00:-1", "the time is neither hours:minutes:seconds nor +seconds"},
           {"36@x:00:00", "the time is neither hours:minutes:seconds nor +seconds"},
           {"36@10:x:00", "the time is neither hours:minutes:seconds nor +seconds"},
           {"36@10:00:x", "the time is neither hours:minutes:seconds nor +seconds"},
           {"36@10:00:00x", "the time is neither hours:minutes:seconds nor +seconds"},
           {"36@+90000", "the time is no number of seconds"},
           {"36@+-1±1", "the time is no number of seconds"},
           {"36@10:00:00±21", "the error is no number of °C from 0.05 to 20"},
           {"-61@10:00:00", "the temperature is no number of °C from -60 to 200"},
           {"36@10", "the time is neither hours:minutes:seconds nor +seconds"},
           {"36@+x", "the time is no number of seconds"},
           {"36@+-1", "the time is neither hours:minutes:seconds nor +seconds"},
           {"36@10:00:00±", "the error is no number of °C from 0.05 to 20"},
           {"36@10:00:00±0", "the error is no number of °C from 0.05 to 20"},
           {"nan@10:00:00", "the temperature is no number of °C from -60 to 200"}}) {
    const auto seen = parse(text);
    ASSERT_FALSE(seen) << text;
    EXPECT_EQ(seen.error().text(), "--seen " + text + ": " + why + "; write 36.0@10:02:10±1 or 36.0@+130±1");
  }
}

}  // namespace
}  // namespace sumplog
