#include "core/job/job_settings.h"

#include <gtest/gtest.h>

#include <chrono>

#include "core/decoder/folders.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;
using Texts = std::vector<std::string>;
using Values = std::vector<std::pair<std::string, std::string>>;

std::string refusal(std::string_view text) {
  const auto window = parse_window(text);
  EXPECT_FALSE(window) << text;
  return window ? "" : window.error().text();
}

JobConfiguration configured(const Values& values, const std::vector<DecoderText>& texts = {}) {
  ConfigurationReader reader;
  reader.on_item(Settings{{}, "job", "program", "", values});
  for (const DecoderText& text : texts) reader.on_item(text);
  return reader.finish();
}

DecoderText shipped(const std::string& name) {
  return {{}, name, testing::file_text(std::string(SUMPLOG_SOURCE) + "/decoders/" + name)};
}
DecoderText service_of(const std::string& id, int low, int high) {
  return {{},
          id + "/service.toml",
          "format = 1\nid = \"" + id + "\"\ntitle = \"invented\"\n[window]\nlow_c = " + std::to_string(low) +
              "\nhigh_c = " + std::to_string(high) + "\norigin = \"invented\"\n"};
}

// --- the window's text ---

TEST(WindowText, IsLowColonHigh) {
  EXPECT_EQ(parse_window("35:45").value(), (TemperatureWindow{{35}, {45}}));
  EXPECT_EQ(parse_window("38.5:39.25").value(), (TemperatureWindow{{38.5}, {39.25}}));
  EXPECT_EQ(parse_window("-10:-5").value(), (TemperatureWindow{{-10}, {-5}}));
  EXPECT_EQ(parse_window("-60:250").value(), (TemperatureWindow{{-60}, {250}}));
}

TEST(WindowText, WhatIsWrongIsSaidWithTheFormThatIsWanted) {
  constexpr std::string_view kWanted = "; give LOW:HIGH in °C, for example 35:45";
  EXPECT_EQ(refusal("35-45"), "window '35-45' has no colon" + std::string(kWanted));
  EXPECT_EQ(refusal(""), "window '' has no colon" + std::string(kWanted));
  for (const std::string text : {":", "35:", ":45", "a:b", "35:45:55", " 35:45", "35 :45", "35:45 ", "35:45C",
                                 "+35:45", "nan:45", "35:inf", "0x10:45", "1e999:2", "35,5:45"})
    EXPECT_EQ(refusal(text), "window '" + text + "' is not two numbers" + std::string(kWanted));
  for (const std::string text : {"45:35", "40:40"})
    EXPECT_EQ(refusal(text),
              "window '" + text + "' has its low end not below its high end" + std::string(kWanted));
  for (const std::string text : {"-61:0", "35:251", "-1000:1000"})
    EXPECT_EQ(refusal(text), "window '" + text + "' is not a fluid temperature" + std::string(kWanted));
}

// --- settings ---

TEST(JobSettings, WithoutAnyThereIsNoWindow) {
  const auto c = configured({});
  EXPECT_FALSE(c.window);
  EXPECT_EQ(c.no_window_why, "no window is set");
  EXPECT_EQ(c.fresh, 3s);
  EXPECT_EQ(c.step_c, 1);
  EXPECT_EQ(c.rounding, Rounding::unknown);
  EXPECT_EQ(c.problems, Texts{});
}

TEST(JobSettings, EachIsTaken) {
  const auto c = configured({{"window", "38:40"},
                             {"min_stay_s", "60.5"},
                             {"step_c", "0.5"},
                             {"rounding", "floor"},
                             {"fresh_s", "1.5"}});
  EXPECT_EQ(c.window, (TemperatureWindow{{38}, {40}}));
  EXPECT_EQ(c.minimum_stay, 60500ms);
  EXPECT_EQ(c.step_c, 0.5);
  EXPECT_EQ(c.rounding, Rounding::floor);
  EXPECT_EQ(c.fresh, 1500ms);
  EXPECT_EQ(c.problems, Texts{});
  EXPECT_EQ(configured({{"rounding", "round"}}).rounding, Rounding::round);
  EXPECT_EQ(configured({{"min_stay_s", "0"}}).minimum_stay, 0s);
}

TEST(JobSettings, OfTwoTheLaterHolds) {
  ConfigurationReader reader;
  reader.on_item(Settings{{}, "", "", "", {{"window", "35:45"}, {"window", "36:46"}, {"step_c", "2"}}});
  reader.on_item(Settings{{}, "", "", "", {{"window", "38:40"}}});
  EXPECT_EQ(reader.finish().window, (TemperatureWindow{{38}, {40}}));
  EXPECT_EQ(reader.finish().step_c, 2);
}

TEST(JobSettings, OneThatCannotBeUsedIsSaidAndChangesNothing) {
  const std::pair<const char*, const char*> kCases[] = {
      {"window", "45:35"}, {"min_stay_s", "soon"}, {"min_stay_s", "-1"}, {"min_stay_s", "1e300"},
      {"fresh_s", "0"},    {"fresh_s", "-3"},      {"fresh_s", "nan"},   {"fresh_s", "86401"},
      {"step_c", "0"},     {"step_c", "1e308"},    {"rounding", "up"},   {"rounding", ""},
      {"step_c", ""},      {"service", "nobody"},  {"window", ""}};
  for (const auto& [key, value] : kCases) {
    const auto c = configured({{key, value}});
    ASSERT_EQ(c.problems.size(), 1U) << key << ' ' << value;
    EXPECT_TRUE(c.problems.front().starts_with("setting is not used: ")) << c.problems.front();
    EXPECT_NE(c.problems.front().find(value), std::string::npos) << c.problems.front();
    EXPECT_EQ(c.fresh, 3s);
    EXPECT_EQ(c.step_c, 1);
    EXPECT_EQ(c.minimum_stay, 120s);
    EXPECT_FALSE(c.window);
  }
}

TEST(JobSettings, AKeyOfAnotherVersionIsLeftAlone) {
  EXPECT_EQ(configured({{"interface", "can0"}, {"weather", "rain"}}).problems, Texts{});
}

// --- decoder and service files ---

TEST(JobSettings, DecodersAndTheServiceFileOfTheJobAreUsed) {
  const auto c = configured({}, {shipped("obd-generic/signals.toml"), shipped("demo-9/signals.toml"),
                                 shipped("demo-9/service.toml")});
  EXPECT_EQ(c.problems, Texts{});
  ASSERT_EQ(c.decoders.size(), 2U);
  EXPECT_EQ(c.decoders[0].id, "obd-generic");
  EXPECT_EQ(c.decoders[1].id, "demo-9");
  ASSERT_TRUE(c.service);
  EXPECT_EQ(c.service->id, "demo-9");
  EXPECT_EQ(c.window, (TemperatureWindow{{35}, {45}}));
  EXPECT_EQ(c.minimum_stay, 120s);
}

TEST(JobSettings, TheSettingOverrulesTheServiceFile) {
  const auto c = configured({{"window", "38:40"}, {"min_stay_s", "30"}}, {shipped("demo-9/service.toml")});
  EXPECT_EQ(c.window, (TemperatureWindow{{38}, {40}}));
  EXPECT_EQ(c.minimum_stay, 30s);
}

TEST(JobSettings, OfSeveralServiceFilesOneMustBeChosen) {
  const std::vector<DecoderText> two{service_of("a", 30, 40), service_of("b", 50, 60)};
  const auto undecided = configured({}, two);
  EXPECT_FALSE(undecided.service);
  EXPECT_FALSE(undecided.window);
  EXPECT_EQ(undecided.no_window_why, "several service files are in use and none was chosen");
  EXPECT_EQ(configured({{"service", "a"}}, two).window, (TemperatureWindow{{30}, {40}}));
  EXPECT_EQ(configured({{"service", "b"}}, two).window, (TemperatureWindow{{50}, {60}}));
}

TEST(JobSettings, AChosenServiceFileThatIsNotThereIsSaidAndNoOtherIsTaken) {
  const auto c = configured({{"service", "z"}}, {service_of("a", 30, 40)});
  EXPECT_FALSE(c.service);
  EXPECT_FALSE(c.window);
  EXPECT_EQ(c.problems, Texts{"setting is not used: this job has no service file of 'z'"});
}

TEST(JobSettings, AFileThatCannotBeReadIsSaidWithItsLine) {
  const auto c = configured({}, {{{}, "bad/signals.toml", "format = 1\nnonsense = 2\n"},
                                 {{}, "bad/service.toml", "format = 1\n[window\n"},
                                 {{}, "bad/codes.toml", "format = 3\n"}});
  ASSERT_EQ(c.problems.size(), 3U);
  EXPECT_TRUE(c.problems[0].starts_with("decoder is not used: bad/signals.toml:")) << c.problems[0];
  EXPECT_TRUE(c.problems[1].starts_with("service file is not used: bad/service.toml:")) << c.problems[1];
  EXPECT_TRUE(c.problems[2].starts_with("code file is not used: bad/codes.toml:")) << c.problems[2];
  EXPECT_TRUE(c.decoders.empty());
  EXPECT_FALSE(c.service);
}

TEST(JobSettings, RoundingIsOneOfThreeWords) {
  for (const auto& [word, rounding] :
       {std::pair{"round", Rounding::round}, {"floor", Rounding::floor}, {"unknown", Rounding::unknown}}) {
    const auto c = configured({{"rounding", "floor"}, {"rounding", word}});
    EXPECT_EQ(c.rounding, rounding) << word;
    EXPECT_EQ(c.problems, Texts{});
  }
}

TEST(JobSettings, AServiceFileThatWasChosenMayHaveNoWindow) {
  const DecoderText bare{{}, "bare/service.toml", "format = 1\nid = \"bare\"\ntitle = \"t\"\n"};
  const auto c = configured({{"service", "bare"}}, {service_of("a", 30, 40), bare});
  ASSERT_TRUE(c.service);
  EXPECT_FALSE(c.window);
  EXPECT_EQ(c.no_window_why, "no window is set") << "one was chosen";
}

TEST(JobSettings, OtherTextsAndItemsAreLeftAlone) {
  ConfigurationReader reader;
  reader.on_item(DecoderText{{}, "demo-9/notes.md", "no TOML"});
  reader.on_item(DecoderText{{}, "signals.toml", "without a folder"});
  reader.on_item(DecoderText{{}, "demo-9/old_signals.toml", "another name"});
  reader.on_item(Advance{});
  const auto c = reader.finish();
  EXPECT_TRUE(c.decoders.empty());
  EXPECT_EQ(c.problems, Texts{});
}

}  // namespace
}  // namespace sumplog
