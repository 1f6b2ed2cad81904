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
}

TEST(JobTerms, WithoutAServiceFileThereIsNoWindowAndItIsSaidWhy) {
  const std::string terms = job_terms(header({}, false));
  EXPECT_THAT(terms, Not(HasSubstr("\"window\":")));
  EXPECT_THAT(terms, HasSubstr("\"no_window_why\":\""));
}

}  // namespace
}  // namespace sumplog
