#include <algorithm>

#include "core/asker/j1939_bus.h"
#include "core/diagnostics/who_is_there.h"
#include "core/isotp/frames.h"

// Groups longer than one frame, and who the J1939 units are.

namespace sumplog::testing {
namespace {

using namespace std::chrono_literals;
using isotp_words::bytes;
using Texts = std::vector<std::string>;

/// A decoder whose one signal is byte 20 of a group of 30 bytes from address 3, asked for every two seconds.
std::vector<Item> long_group_opening() {
  return {Settings{kJobStart, "job", "program", "", {}},
          DecoderText{kJobStart, "long/signals.toml", R"(format = 1
id = "long"
title = "invented"
[[signal]]
name = "x_twentieth"
unit = "none"
spn = 234
pgn = 65242
source_address = 3
length = 30
start_bit = 152
bit_length = 8
byte_order = "big"
scale = 1
offset = 0
valid = [0, 255]
poll_s = 2
origin = "invented"
checks = [
  { bytes = "000000000000000000000000000000000000000000000000000000000000", value = 0 },
  { bytes = "00000000000000000000000000000000000000FF00000000000000000000", value = 255 },
]
)"}};
}

std::vector<std::uint8_t> thirty_bytes() {
  std::vector<std::uint8_t> payload(30);
  for (std::size_t i = 0; i < payload.size(); ++i) payload[i] = static_cast<std::uint8_t>(100 + i);
  return payload;
}

TEST(J1939Job, AUnitThatAnswersInASessionIsRead) {
  J1939Bus bus(long_group_opening(), {});
  bus.add(session_sender(3, 65242, thirty_bytes(), 2));
  bus.run_for(20s);
  ASSERT_GE(bus.readings().size(), 5U);
  for (const ReadingEvent& reading : bus.readings()) EXPECT_EQ(reading.value, 119);
  const Texts said = bus.heard_on(0x18EC03F9);
  ASSERT_GE(said.size(), 4U);
  EXPECT_EQ((Texts{said.begin(), said.begin() + 4}),
            (Texts{"110201FFFFDAFE00", "110203FFFFDAFE00", "110105FFFFDAFE00", "131E0005FFDAFE00"}));
  EXPECT_EQ(said.size() % 4, 0U);
  FlowRun replayed(bus.items());
  EXPECT_EQ(replayed.lines(), bus.lines());
}

TEST(J1939Job, TwoUnitsAreAskedSideBySideAndOneThatDeniesEndsItsOwnQuestionAlone) {
  std::string text = std::get<DecoderText>(long_group_opening()[1]).text;
  std::string second = text.substr(text.find("[[signal]]"));
  const auto change = [&](const std::string& from, const std::string& to) {
    second.replace(second.find(from), from.size(), to);
  };
  change("x_twentieth", "x_other");
  change("spn = 234", "spn = 235");
  change("source_address = 3", "source_address = 0");
  J1939Bus bus({long_group_opening()[0], DecoderText{kJobStart, "long/signals.toml", text + second}}, {});
  bus.add(session_sender(3, 65242, thirty_bytes(), 5));
  bus.add([](const CanFrame& frame, J1939Bus& b) {
    if (frame.id == extended_id(0x18EA00F9))
      b.put(0x18E8FF00, bytes("01 FF FF FF F9 DA FE 00"), 5ms);  // it has no such group
  });
  bus.run_for(20s);
  EXPECT_EQ(bus.heard_on(0x18EA00F9).size(), 1U);
  EXPECT_GE(bus.readings().size(), 5U);
}

TEST(J1939Job, AUnitWithManyPacketsIsNotAskedAgainBeforeItHasEnded) {
  auto unit = session_sender(3, 65242, thirty_bytes(), 1);
  J1939Bus bus(long_group_opening(), {});
  bus.add([unit](const CanFrame& frame, J1939Bus& slow) {
    // One packet for each CTS, and a second before each: the answer takes five seconds.
    if (frame.id != extended_id(0x18EC03F9) || frame.bytes[0] != 0x11) {
      unit(frame, slow);
      return;
    }
    slow.put(0x1CEBF903, isotp_words::packet(thirty_bytes(), frame.bytes[2]), 1s);
  });
  while (bus.readings().empty() && bus.now() < kJobStart + 7s) bus.run_for(1ms);
  EXPECT_EQ(bus.readings().size(), 1U);
  EXPECT_EQ(bus.heard_on(0x18EA03F9).size(), 1U);
}

TEST(J1939Job, ASessionThatBreaksOffIsAbortedAndAskedForAgain) {
  J1939Bus bus(long_group_opening(), {});
  bool broken = false;
  auto whole = session_sender(3, 65242, thirty_bytes(), 5);
  bus.add([&](const CanFrame& frame, J1939Bus& b) {
    if (broken || frame.id != extended_id(0x18EC03F9)) {
      whole(frame, b);
      return;
    }
    broken = true;
    b.put(0x1CEBF903, isotp_words::packet(thirty_bytes(), 1), 10ms);
    b.put(0x1CEBF903, isotp_words::packet(thirty_bytes(), 3), 20ms);
  });
  bus.run_for(20s);
  const Texts said = bus.heard_on(0x18EC03F9);
  EXPECT_EQ(std::count(said.begin(), said.end(), "FF07FFFFFFDAFE00"), 1);
  EXPECT_GE(bus.readings().size(), 3U);
}

TEST(J1939Job, ASessionThatNobodyAskedForGetsNoReply) {
  J1939Bus bus(long_group_opening(), {});
  bus.run_for(10s);  // asked, not answered
  bus.run_for(1300ms);
  for (int i = 0; i < 5; ++i) {
    bus.put(0x1CECF904, isotp_words::announcement(isotp_words::kRts, 30, 65242));  // another unit
    bus.put(0x1CECF903, isotp_words::announcement(isotp_words::kRts, 30, 65226));  // another group
    bus.run_for(2s);
  }
  EXPECT_TRUE(bus.heard_on(0x18EC04F9).empty());
  EXPECT_TRUE(bus.heard_on(0x18EC03F9).empty());
}

// --- who is there ---

std::vector<Item> shipped_opening() {
  return {Settings{kJobStart, "job", "program", "", {}},
          DecoderText{kJobStart, "j1939-transmission/signals.toml",
                      file_text(std::string(SUMPLOG_SOURCE) + "/decoders/j1939-transmission/signals.toml")}};
}

AskerSettings who_is_there() {
  AskerSettings settings;
  settings.purpose = PlanPurpose::who;
  return settings;
}

WhoIsThere told_by(const std::vector<Item>& items, const std::vector<Item>& header) {
  WhoIsThere who(decoders_of(header));
  Flow flow;
  for (const Item& item : items) {
    if (const auto* frame = std::get_if<CanFrame>(&item)) who.on_frame(*frame);
    Output out;
    flow.on_item(item, out);
    who.on_output(out);
  }
  return who;
}

// SAE J1939-81 NAME as in canboat, PGN 60928, low byte first: identity 0x012345, manufacturer 0x123, function 3.
const std::vector<std::uint8_t> kGearboxName{0x45, 0x23, 0x61, 0x24, 0x00, 0x03, 0x00, 0x80};
const std::vector<std::uint8_t> kEngineName{0x01, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00};

TEST(J1939Job, AScanHearsEveryUnitThatClaimsItsAddress) {
  J1939Bus bus(shipped_opening(), who_is_there());
  bus.add(claimant(0x03, kGearboxName, 20ms));
  bus.add(claimant(0x00, kEngineName, 900ms));
  bus.put(0x18FEF803, bytes("FF FF FF 14 20 2E FF FF"), 1500ms);  // 96 °C
  for (int i = 0; i < 60 && !bus.finished(); ++i) bus.run_for(1s);
  EXPECT_TRUE(bus.finished());
  EXPECT_EQ(bus.heard_on(0x18EAFFF9), Texts{"00EE00"});
  const WhoIsThere who = told_by(bus.items(), shipped_opening());
  EXPECT_TRUE(who.anybody());
  EXPECT_NE(
      who.json().find(R"("j1939":[{"address":"00","claim":"0000000000000001"},)"
                      R"({"address":"03","claim":"8000030024612345","spns":["177 fluid_temperature"]}])"),
      std::string::npos)
      << who.json();
  const Texts text = who.text();
  EXPECT_NE(std::find(text.begin(), text.end(), "  address 03"), text.end());
  EXPECT_NE(std::find(text.begin(), text.end(),
                      "    name                 8000030024612345: function 3, manufacturer 291,"),
            text.end());
  for (const std::string& line : text) EXPECT_LE(line.size(), 80U) << line;
}

TEST(J1939Job, AnAnswerThatNoDecoderReadsIsNoSilence) {
  // The VI group in a session with us, as another program's recording may hold it, and one that nobody answers.
  const auto header = shipped_opening();
  std::vector<Item> items = header;
  TimePoint now = kJobStart;
  const auto put = [&](std::uint32_t id, const std::vector<std::uint8_t>& data) {
    items.emplace_back(data_frame(now += 10ms, BusName("can0"), extended_id(id), data));
  };
  put(0x18EAFFF9, bytes("EC FE 00"));
  put(0x18EA00F9, bytes("E5 FE 00"));
  put(0x1CECFF03, isotp_words::announcement(isotp_words::kBam, 18, 0xFEEC));
  put(0x1CEC2100, bytes("FF 01 FF FF FF E5 FE 00"));  // an abort of somebody's session is no answer
  const std::string json = told_by(items, header).json();
  EXPECT_NE(json.find(R"("asked":["18EAFFF9 PGN 00FEEC","18EA00F9 PGN 00FEE5"])"), std::string::npos) << json;
  EXPECT_NE(json.find(R"("silent":["18EA00F9 PGN 00FEE5"])"), std::string::npos) << json;
}

TEST(J1939Job, AScanWithoutJ1939DecodersAsksNobodyThereAndSaysSo) {
  auto header = demo_opening();
  J1939Bus bus(header, who_is_there());
  for (int i = 0; i < 60 && !bus.finished(); ++i) bus.run_for(1s);
  EXPECT_TRUE(bus.finished());
  EXPECT_TRUE(bus.heard_on(0x18EAFFF9).empty());
  EXPECT_TRUE(bus.heard_on(0x18EEFFF9).empty());
  EXPECT_NE(told_by(bus.items(), header).json().find("units of SAE J1939"), std::string::npos);
}

TEST(J1939Job, AClaimIsSaidOnceAndAgainWhenItChanges) {
  FlowRun run(shipped_opening());
  const auto claim = [&](std::uint32_t id, const std::vector<std::uint8_t>& name) {
    run.feed(data_frame(kJobStart + 1s, BusName("can0"), extended_id(id), name));
  };
  claim(0x18EEFF03, kGearboxName);
  claim(0x18EEFF03, kGearboxName);
  claim(0x0CEEFF03, kGearboxName);  // another priority is no other unit
  EXPECT_EQ(run.all<VehicleEvent>().size(), 1U);
  EXPECT_EQ(run.all<VehicleEvent>()[0].ecu, "18EEFF03");
  EXPECT_EQ(run.all<VehicleEvent>()[0].claim, "8000030024612345");
  claim(0x18EEFF03, kEngineName);
  EXPECT_EQ(run.all<VehicleEvent>().size(), 2U);
  claim(0x18EEFFFE, kEngineName);  // the null address: somebody could not claim one
  claim(0x18EEFFF9, kEngineName);  // our own
  EXPECT_EQ(run.all<VehicleEvent>().size(), 2U);
}

}  // namespace
}  // namespace sumplog::testing
