#include "core/record/job_terms.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <fstream>
#include <sstream>

namespace sumplog {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;

std::string read(const std::string& path) {
  std::ifstream file(std::string(SUMPLOG_SOURCE) + "/" + path);
  std::stringstream text;
  text << file.rdbuf();
  return text.str();
}

std::vector<Item> header(std::vector<std::pair<std::string, std::string>> values, bool service) {
  Settings settings;
  settings.values = std::move(values);
  std::vector<Item> items{settings};
  items.emplace_back(DecoderText{{}, "demo-9/signals.toml", read("decoders/demo-9/signals.toml")});
  if (service)
    items.emplace_back(DecoderText{{}, "demo-9/service.toml", read("decoders/demo-9/service.toml")});
  return items;
}

TEST(JobTerms, AreWindowFiguresAndCautionsOfTheServiceFileWithTheirOrigin) {
  const std::string terms = job_terms(header({}, true));
  EXPECT_THAT(terms, HasSubstr(R"("window":{"low_c":35.00,"high_c":45.00,"origin":"invented"})"));
  EXPECT_THAT(terms, HasSubstr(R"t("id":"demo-9","title":"Demo family, 9 speeds (invented)")t"));
  EXPECT_THAT(terms, HasSubstr(R"("fluid_temperature":true)"));
  EXPECT_THAT(terms, HasSubstr(R"("decision_c":40.00,"start_below_c":30.00,"coolant_below_c":50.00)"));
  EXPECT_THAT(terms, HasSubstr(R"("selector_cycle":["P","R","N","D"])"));
  EXPECT_THAT(terms, HasSubstr("The fluid burns"));
}

TEST(JobTerms, AWindowThatWasTypedHasNoOrigin) {
  EXPECT_THAT(job_terms(header({{"window", "30:40"}}, true)),
              HasSubstr(R"("window":{"low_c":30.00,"high_c":40.00},)"));
  EXPECT_THAT(job_terms(header({{"window", "35:46"}}, true)),
              HasSubstr(R"("window":{"low_c":35.00,"high_c":46.00},)"))
      << "nor one that shares its start with the file's";
}

DecoderText file(const char* name, const std::string& text) {
  return {{}, name, text};
}
std::string service_of(const std::string& more, const std::string& note = "") {
  return "format = 1\nid = \"bare\"\ntitle = \"t\"\n[window]\nlow_c = 30\nhigh_c = 40\norigin = "
         "\"invented\"\n" +
         note + more;
}

TEST(JobTerms, OfAServiceFileAreThoseThatItNames) {
  const std::string bare = job_terms({Settings{}, file("bare/service.toml", service_of(""))});
  for (const char* const key : {"decision_c", "start_below_c", "coolant_below_c", "fill_l", "criterion",
                                "selector_cycle", "by_hand", "cautions", "problems", "origin_note"})
    EXPECT_THAT(bare, Not(HasSubstr("\"" + std::string(key) + "\""))) << key;
  const std::string more = job_terms(
      {Settings{},
       file("bare/service.toml",
            service_of(
                "[fill]\nl = 7.5\norigin = \"invented\"\n[criterion]\nflow = \"drip\"\n"
                "origin = \"invented\"\n[by_hand]\nconditions = [\"car level\"]\norigin = \"invented\"\n",
                "origin_note = \"page 7\"\n"))});
  EXPECT_THAT(more, HasSubstr(R"("origin_note":"page 7")")) << more;
  EXPECT_THAT(more, HasSubstr(R"("fill_l":7.50,"criterion":"drip","by_hand":["car level"])")) << more;
}

TEST(JobTerms, ADecoderMayReadNoFluidTemperatureAndMaySayWhatOneMustKnow) {
  const std::string generic = read("decoders/obd-generic/signals.toml");
  const std::string terms = job_terms({Settings{}, file("obd-generic/signals.toml", generic),
                                       file("demo-9/signals.toml", read("decoders/demo-9/signals.toml"))});
  EXPECT_THAT(terms, HasSubstr(R"("fluid_temperature":false},{"id":"demo-9")"));
  EXPECT_THAT(terms, HasSubstr("\"note\":\""));
  const std::string silent =
      job_terms({Settings{}, file("my-9/signals.toml", read("tests/core/decoder/sound_signals.toml"))});
  EXPECT_THAT(silent, HasSubstr(R"("id":"my-9")"));
  EXPECT_THAT(silent, Not(HasSubstr("\"note\"")));
}

TEST(JobTerms, WhatCannotBeUsedIsAProblem) {
  EXPECT_THAT(job_terms({Settings{}, file("bare/service.toml", "format = 2\n")}),
              HasSubstr(R"("problems":["service file is not used)"));
}

TEST(JobTerms, WithoutAServiceFileThereIsNoWindowAndItIsSaidWhy) {
  const std::string terms = job_terms(header({}, false));
  EXPECT_THAT(terms, Not(HasSubstr("\"window\":")));
  EXPECT_THAT(terms, HasSubstr("\"no_window_why\":\""));
}

TEST(JobTerms, AServiceFileMayLeaveTheWindowToThePerson) {
  const std::string bare =
      "format = 1\nid = \"bare\"\ntitle = \"t\"\n[fill]\nl = 7.5\norigin = \"invented\"\n";
  Settings settings;
  settings.values = {{"window", "30:40"}};
  EXPECT_THAT(job_terms({settings, file("bare/service.toml", bare)}),
              HasSubstr(R"("window":{"low_c":30.00,"high_c":40.00},)"));
  EXPECT_THAT(job_terms({settings}), HasSubstr(R"("window":{"low_c":30.00,"high_c":40.00},)"))
      << "nor is one needed";
}

}  // namespace
}  // namespace sumplog
