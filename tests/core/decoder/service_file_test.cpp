#include "core/decoder/service_file.h"

#include <gtest/gtest.h>

#include "core/decoder/mistakes.h"

namespace sumplog {
namespace {

ServiceFile parsed(const std::string& text) {
  auto service = parse_service_file(text, "my-9/service.toml");
  EXPECT_TRUE(service) << service.error().text();
  return service ? *service : ServiceFile{};
}

TEST(ServiceFile, GivesEveryFigureThatIsWritten) {
  const ServiceFile file = parsed(testing::test_file("sound_service.toml"));
  EXPECT_EQ(file.id, "my-9");
  EXPECT_EQ(file.title, "My family: fluid service");
  EXPECT_EQ(file.window->value, (TemperatureWindow{Celsius{35}, Celsius{45}}));
  EXPECT_EQ(file.decision_point->value, Celsius{40});
  EXPECT_EQ(file.start_limit->value, Celsius{30});
  EXPECT_EQ(file.abort_limit->value, Celsius{46});
  EXPECT_EQ(file.settling_time->value, Duration{60'000'000});
  EXPECT_EQ(file.engine->value, EngineState::running);
  EXPECT_EQ(file.idle->value.low_rpm, 600);
  EXPECT_EQ(file.idle->value.high_rpm, 900);
  EXPECT_EQ(file.vehicle->value, VehicleState::any);
  EXPECT_EQ(file.selector->value, (std::vector<std::string>{"P", "N"}));
  EXPECT_EQ(file.selector_cycle->value[1].position, "M3");
  EXPECT_EQ(file.selector_cycle->value[1].hold, Duration{2'500'000});
  EXPECT_EQ(file.codes_read->value, Duration{900'000'000});
  EXPECT_EQ(file.minimum_stay->value, Duration{120'000'000});
  EXPECT_EQ(file.rate_limit->value, CelsiusPerMinute{3});
  EXPECT_EQ(file.fill_l->value, 10);
  EXPECT_EQ(file.drain_share->value, 0.45);
  EXPECT_EQ(file.dead_volume_l->value, 0.5);
  EXPECT_EQ(file.imbalance->value.stop_l, 0.5);
  EXPECT_EQ(file.imbalance->value.abort_l, 1.0);
  EXPECT_EQ(file.bypass->value, Celsius{75});
  EXPECT_EQ(file.coolant_limit->value, Celsius{50});
  EXPECT_EQ(file.criterion->value, "thread");
  EXPECT_EQ(file.by_hand->value, (std::vector<std::string>{"car level", "air conditioning off"}));
  EXPECT_EQ(file.cautions->value, (std::vector<std::string>{"The fluid burns.", "The engine runs."}));
  EXPECT_EQ(file.advice_below->value, "Idle in P.");
  EXPECT_EQ(file.advice_above->value, "Plug in, stop, cool below 30.");
  EXPECT_EQ(file.density_kg_per_m3->value, 845);
}

TEST(ServiceFile, KeepsOriginNoteAndLineOfEachFigure) {
  const ServiceFile file = parsed(testing::test_file("sound_service.toml"));
  EXPECT_EQ(file.window->origin, Origin::service_manual);
  EXPECT_EQ(file.window->note, "invented handbook, page 9");
  EXPECT_EQ(file.window->line, 5);
  EXPECT_EQ(file.decision_point->origin, Origin::invented);
  EXPECT_EQ(file.decision_point->line, 11);
}

TEST(ServiceFile, WhatIsAbsentIsNotKnownAndHasNoDefault) {
  const ServiceFile file = parsed("format = 1\nid = \"bare\"\ntitle = \"Bare\"\n");
  EXPECT_FALSE(file.window || file.decision_point || file.start_limit || file.abort_limit ||
               file.settling_time || file.engine || file.selector || file.vehicle || file.idle ||
               file.selector_cycle || file.codes_read || file.minimum_stay || file.rate_limit ||
               file.fill_l || file.drain_share || file.dead_volume_l || file.imbalance || file.bypass ||
               file.coolant_limit || file.criterion || file.by_hand || file.cautions || file.advice_below ||
               file.advice_above || file.density_kg_per_m3);
}

TEST(ServiceFile, AWindowBelowZeroIsPossible) {
  const std::string text =
      "format = 1\nid = \"cold\"\ntitle = \"Cold\"\n[window]\nlow_c = -20\nhigh_c = -10.5\norigin = "
      "\"invented\"\n";
  EXPECT_EQ(parsed(text).window->value, (TemperatureWindow{Celsius{-20}, Celsius{-10.5}}));
}

TEST(ServiceFile, NeverCrashesOnAnyPrefixOrOnOneByteChanged) {
  const std::string text = testing::test_file("sound_service.toml");
  for (std::size_t at = 0; at < text.size(); ++at) {
    std::string spoilt = text;
    spoilt[at] = '"';
    for (const std::string& one : {text.substr(0, at), spoilt}) {
      const auto service = parse_service_file(one, "cut");
      if (service) continue;
      EXPECT_EQ(service.error().place.rfind("cut:", 0), 0U) << at << " " << service.error().text();
    }
  }
}

TEST(ServiceFile, AFigureStandsWithoutTheOneThatItIsHeldAgainst) {
  const std::string head = "format = 1\nid = \"bare\"\ntitle = \"Bare\"\n";
  for (const char* const one :
       {"[start_limit]\nbelow_c = 60\n", "[abort_limit]\nat_c = 20\n", "[decision_point]\nat_c = 40\n",
        "[idle]\nlow_rpm = 600\nhigh_rpm = 900\n", "[engine]\nstate = \"stopped\"\n",
        "[dead_volume]\nl = 20\n", "[fill]\nl = 10\n"}) {
    const auto file = parse_service_file(head + one + "origin = \"invented\"\n", "a.toml");
    EXPECT_TRUE(file) << file.error().text();
  }
}

}  // namespace
}  // namespace sumplog
