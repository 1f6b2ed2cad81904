#include <gtest/gtest.h>

#include <chrono>
#include <string>

#include "core/isotp/frames.h"
#include "core/item/json_line.h"
#include "core/vehicle/hostile/rules.h"

namespace sumplog::hostile {
namespace {

using namespace std::chrono_literals;

constexpr char kNotSaid[] = "no message heard at that time says so";
constexpr char kNotAsked[] = "nobody had asked for it";
constexpr char kNotOnWire[] = "nobody has put it on the wire";

/// Frames on the wire and in the job file, and readings, by hand.
class ReadingRules : public ::testing::Test {
 protected:
  static CanFrame frame(Duration at, CanId id, std::string_view hex) {
    return data_frame(TimePoint{at}, BusName("can0"), id, isotp_words::bytes(hex));
  }
  void hear(const CanFrame& one) { trace_.items.emplace_back(one); }
  void on_the_wire(const CanFrame& one) {
    trace_.wire.push_back(one);
    hear(one);
  }
  void read(Duration at, const std::string& signal, const std::string& value, const std::string& unit) {
    trace_.journal.push_back(R"({"t":)" + fixed(in_seconds(at), 6) + R"(,"kind":"reading","signal":")" +
                             signal + R"(","value":)" + value + R"(,"ecu":")" + unit + "\"}");
  }
  /// The words before the line; "" when the rule holds.
  [[nodiscard]] std::string judged() const {
    const auto finding = judge_readings(plan_, trace_);
    return finding ? finding->what.substr(0, finding->what.find(": ")) : "";
  }

  Plan plan_;
  Trace trace_;
};

TEST_F(ReadingRules, ReadAnswersOfSeveralParameters) {
  // src  SAE J1979: 05 is one byte minus 40, 0C two bytes of a quarter, 01 four bytes
  struct Case {
    std::string_view answer;
    std::string expected;
  };
  for (const Case& one :
       {Case{"06 41 05 50 0C 0A 80 00", ""}, Case{"04 41 0C 0A 80 00 00 00", ""},
        Case{"03 41 0C 0A 00 00 00 00", kNotSaid},  // cut within the value
        Case{"02 41 0C 00 00 00 00 00", kNotSaid}, Case{"01 41 00 00 00 00 00 00", kNotSaid},
        Case{"05 41 EE 0C 0A 80 00 00", kNotSaid},  // behind one whose length nobody knows
        Case{"01 62 00 00 00 00 00 00", kNotSaid}, Case{"02 62 1A 00 00 00 00 00", kNotSaid},
        Case{"03 7F 01 12 00 00 00 00", kNotSaid}}) {
    trace_ = {};
    on_the_wire(frame(1s, standard_id(0x7E0), "03 01 05 0C CC CC CC CC"));
    on_the_wire(frame(1s + 20ms, standard_id(0x7E8), one.answer));
    read(1s + 20ms, "engine_speed", "672", "7E8");
    EXPECT_EQ(judged(), one.expected) << one.answer;
  }
}

TEST_F(ReadingRules, WantARequestForJustThat) {
  struct Case {
    std::string_view request;
    std::string expected;
  };
  for (const Case& one :
       {Case{"03 22 1A 05 CC CC CC CC", ""}, Case{"05 22 1A 06 1A 05 CC CC", ""},
        Case{"03 22 1A 06 CC CC CC CC", kNotAsked}, Case{"03 21 1A 05 CC CC CC CC", kNotAsked},
        Case{"02 22 1A CC CC CC CC CC", kNotAsked}}) {
    trace_ = {};
    on_the_wire(frame(1s, standard_id(0x7E1), one.request));
    on_the_wire(frame(1s + 20ms, standard_id(0x7E9), "04 62 1A 05 50 00 00 00"));
    read(1s + 20ms, "fluid_temperature", "40", "7E9");
    EXPECT_EQ(judged(), one.expected) << one.request;
  }
}

// Groups of SAE J1939 are told without being asked for. src  SAE J1939-71, FEF8: bytes 5 and 6, 1/32 degree, from -273
class GroupReadingRules : public ReadingRules {
 protected:
  GroupReadingRules() { plan_.scenario.j1939.emplace(); }
  const CanFrame told_ = frame(1s, extended_id(0x18FEF803), "FF FF FF FF 20 27 FF FF");
};

TEST_F(GroupReadingRules, HoldOnAGroupThatWasOnTheWire) {
  on_the_wire(told_);
  read(1s, "fluid_temperature", "40", "18FEF803");
  EXPECT_EQ(judged(), "");
}

TEST_F(GroupReadingRules, FindWhatNoGroupSays) {
  const auto spoil = [&](auto change) {
    trace_ = {};
    CanFrame one = told_;
    change(one);
    on_the_wire(one);
    read(1s, "fluid_temperature", "40", "18FEF803");
    EXPECT_EQ(judged(), kNotSaid);
  };
  spoil([](CanFrame& one) { one.id = extended_id(0x18FEF804); });  // another unit
  spoil([](CanFrame& one) { one.id = extended_id(0x18FEF703); });  // another group
  spoil([](CanFrame& one) { one.id = standard_id(0x7E8); });
  spoil([](CanFrame& one) { one.id.extended = false; });
  spoil([](CanFrame& one) { one.kind = FrameKind::remote; });
  spoil([](CanFrame& one) { one.length = 5; });  // the value is cut
  spoil([](CanFrame& one) { one.bytes[4] = 0x40; });
}

TEST_F(GroupReadingRules, FindAGroupThatNobodyPutOnTheWire) {
  hear(told_);
  read(1s, "fluid_temperature", "40", "18FEF803");
  EXPECT_EQ(judged(), kNotOnWire);  // its identifier is not on the wire at all
  CanFrame other = told_;
  other.bytes[4] = 0x40;
  trace_.wire.push_back(other);
  EXPECT_EQ(judged(), kNotOnWire);
  plan_.lying = true;  // there only the form is judged
  EXPECT_EQ(judged(), "");
}

}  // namespace
}  // namespace sumplog::hostile
