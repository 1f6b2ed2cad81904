#include "core/job/fluid_book.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <chrono>

namespace sumplog {
namespace {

using namespace std::chrono_literals;
using ::testing::ElementsAre;
using ::testing::IsEmpty;
using ::testing::SizeIs;

class FluidBookTest : public ::testing::Test {
 protected:
  bool enter(const std::string& id, const std::string& name, const std::string& fields,
             std::string_view stage = "") {
    now_ += 1min;
    return book_.on_entry(Entry{now_, id, name, fields}, stage);
  }
  std::vector<std::string> parts() const {
    std::vector<std::string> parts;
    for (const FluidVolume& one : book_.volumes()) parts.push_back(one.part);
    return parts;
  }
  std::vector<std::string> ids() const {
    std::vector<std::string> ids;
    for (const FluidVolume& one : book_.volumes()) ids.push_back(one.id);
    return ids;
  }

  FluidBook book_;
  TimePoint now_ = at_micros(1700000000000000);
};

TEST_F(FluidBookTest, KeepsWhatWasEntered) {
  EXPECT_TRUE(enter("1", "fluid_out", R"({"litres":4.2,"temp_c":60,"part":"drain"})"));
  EXPECT_TRUE(enter("2", "fluid_in", R"({"mass_kg":3.5,"density_kg_per_m3":845,"part":"refill"})"));
  ASSERT_THAT(book_.volumes(), SizeIs(2));
  const FluidVolume& out = book_.volumes()[0];
  EXPECT_EQ(out.way, FluidWay::out);
  EXPECT_EQ(out.litres, 4.2);
  EXPECT_EQ(out.temp_c, 60);
  EXPECT_EQ(out.part, "drain");
  EXPECT_FALSE(out.mass_kg);
  const FluidVolume& in = book_.volumes()[1];
  EXPECT_EQ(in.way, FluidWay::in);
  EXPECT_EQ(in.mass_kg, 3.5);
  EXPECT_EQ(in.density_kg_per_m3, 845);
}

TEST_F(FluidBookTest, OtherEntriesAreNoVolumes) {
  EXPECT_FALSE(enter("1", "fluid_added", R"({"litres":4})"));
  EXPECT_FALSE(enter("2", "note", R"({"text":"4 litres"})"));
  EXPECT_THAT(book_.volumes(), IsEmpty());
}

TEST_F(FluidBookTest, TakesThePartFromTheStageUnlessThePersonSaysIt) {
  for (const char* stage :
       {"sample", "line opened", "exchange", "drain and parts", "refill", "level check", "reception", ""})
    enter(std::string("at ") + stage, "fluid_out", R"({"litres":1})", stage);
  EXPECT_THAT(parts(), ElementsAre("sample", "drain", "exchange", "drain", "refill", "level check",
                                   "not said", "not said"));
  enter("said", "fluid_out", R"({"litres":1,"part":"pan"})", "exchange");
  EXPECT_EQ(parts().back(), "pan");
}

TEST_F(FluidBookTest, AVolumeThatWasEnteredLateStandsWhereItHappened) {
  enter("1", "fluid_out", R"({"litres":1})");
  enter("2", "fluid_in", R"({"litres":1})");
  enter("late", "fluid_out", R"({"litres":1,"ago_s":90})");
  EXPECT_THAT(ids(), ElementsAre("1", "late", "2"));
}

TEST_F(FluidBookTest, ACorrectionTakesThePlaceOfWhatItReplaces) {
  enter("1", "fluid_out", R"({"litres":42})", "drain and parts");
  enter("2", "fluid_in", R"({"litres":4})", "refill");
  enter("3", "fluid_out", R"({"litres":4.2,"replaces":"1"})", "level check");
  ASSERT_THAT(ids(), ElementsAre("3", "2"));
  EXPECT_EQ(book_.volumes()[0].litres, 4.2);
  EXPECT_EQ(book_.volumes()[0].part, "drain") << "it happened at that stage";
  EXPECT_THAT(book_.problems(), IsEmpty());
  enter("4", "fluid_out", R"({"litres":4.3,"replaces":"3","part":"pan"})");
  ASSERT_THAT(ids(), ElementsAre("4", "2"));
  EXPECT_EQ(book_.volumes()[0].part, "pan");
}

TEST_F(FluidBookTest, ACorrectionOfNothingIsAnotherVolumeAndSaysSo) {
  enter("1", "fluid_out", R"({"litres":4})");
  enter("2", "fluid_out", R"({"litres":4.2,"replaces":"x"})");
  EXPECT_THAT(ids(), ElementsAre("1", "2"));
  EXPECT_THAT(
      book_.problems(),
      ElementsAre("entry 2 replaces entry x, which is no volume in this job: counted as another one"));
}

TEST_F(FluidBookTest, FieldsOfAnotherKindAreNotThere) {
  enter("1", "fluid_out", R"({"litres":"4,2","temp_c":"warm","part":7})");
  ASSERT_THAT(book_.volumes(), SizeIs(1));
  EXPECT_FALSE(book_.volumes()[0].litres);
  EXPECT_FALSE(book_.volumes()[0].temp_c);
  EXPECT_EQ(parts(), std::vector<std::string>{"not said"});
  enter("2", "fluid_in", "no json");
  EXPECT_THAT(book_.volumes(), SizeIs(2));
}

TEST(PoursFluid, ACorrectionPoursNothing) {
  const auto entry = [](const std::string& name, const std::string& fields) {
    return Entry{at_micros(0), "1", name, fields};
  };
  EXPECT_TRUE(pours_fluid(entry("fluid_in", R"({"litres":1})")));
  EXPECT_TRUE(pours_fluid(entry("fluid_added", "{}")));
  EXPECT_FALSE(pours_fluid(entry("fluid_in", R"({"litres":1,"replaces":"2"})")));
  EXPECT_FALSE(pours_fluid(entry("fluid_out", R"({"litres":1})")));
}

}  // namespace
}  // namespace sumplog
