#include "core/job/level_seen.h"

#include <gtest/gtest.h>

namespace sumplog {
namespace {

std::optional<LevelSeen> seen(const std::string& fields, const std::string& criterion = "drip") {
  ServiceFile service;
  if (!criterion.empty()) service.criterion = Sourced<std::string>{criterion, Origin::invented, {}, 0};
  return level_seen(Entry{{}, "1", "level_seen", fields}, service);
}

TEST(LevelSeen, TheFlowOfWhatWasCollected) {
  // Common practice, no source: a drip is less than 20 ml/min, a thread 20 to 100, a stream more.
  EXPECT_EQ(flow_of(0), "dry");
  EXPECT_EQ(flow_of(0.1), "drip");
  EXPECT_EQ(flow_of(3.3), "drip");
  EXPECT_EQ(flow_of(3.4), "thread");
  EXPECT_EQ(flow_of(16.6), "thread");
  EXPECT_EQ(flow_of(16.7), "stream");
}

TEST(LevelSeen, IsHeldAgainstTheCriterion) {
  EXPECT_EQ(seen(R"({"flow":"drip"})")->reached, true);
  EXPECT_EQ(seen(R"({"flow":"dry"})")->reached, false);
  EXPECT_EQ(seen(R"({"flow":"stream"})")->reached, false) << "there is too much yet";
  EXPECT_EQ(seen(R"({"flow":"thread"})", "thread")->reached, true);
  EXPECT_EQ(seen(R"({"flow":"drip"})", "thread")->reached, false);
}

TEST(LevelSeen, WithoutACriterionNothingIsReached) {
  const auto one = seen(R"({"flow":"drip"})", "");
  EXPECT_FALSE(one->reached);
  EXPECT_EQ(one->criterion, "");
  EXPECT_FALSE(level_seen(Entry{{}, "1", "level_seen", R"({"flow":"drip"})"}, std::nullopt)->reached);
}

TEST(LevelSeen, MillilitresAloneMakeAFlow) {
  const auto one = seen(R"({"ml_in_10_s":2,"by":"T. Example"})");
  EXPECT_EQ(one->flow, "drip");
  EXPECT_EQ(one->ml_in_10_s, 2);
  EXPECT_EQ(one->by, "T. Example");
  EXPECT_EQ(one->reached, true);
}

TEST(LevelSeen, AFlowThatTheMillilitresSpeakAgainstIsNotReached) {
  const auto one = seen(R"({"flow":"drip","ml_in_10_s":12})");
  EXPECT_EQ(one->flow, "drip") << "as the person says";
  EXPECT_EQ(one->reached, false);
}

TEST(LevelSeen, WhatSaysNeitherIsNothing) {
  EXPECT_FALSE(seen("{}"));
  EXPECT_FALSE(seen(R"({"flow":"much"})"));
  EXPECT_FALSE(seen(R"({"ml_in_10_s":-1})"));
  EXPECT_EQ(seen(R"({"flow":"dry","ml_in_10_s":-1})")->ml_in_10_s, std::nullopt);
  EXPECT_FALSE(seen(R"({"ml_in_10_s":10001})")) << "a slip of the pen";
  EXPECT_TRUE(seen(R"({"ml_in_10_s":10000})"));
}

}  // namespace
}  // namespace sumplog
