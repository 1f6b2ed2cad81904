#include "core/j1939/diagnostic_message.h"

#include <gtest/gtest.h>

#include <random>

#include "core/isotp/frames.h"
#include "core/j1939/packets.h"
#include "core/j1939/transport.h"

// Layout: SAE J1939-73 as in Open-SAE-J1939 (Src/SAE_J1939/SAE_J1939-73_Diagnostics_Layer/DM1.c) and
// docs.rs/j1939 src/diagnostic.rs. The latter takes only two of the three high bits of the SPN, so only its
// small numbers serve as vectors; the three bits are Open-SAE-J1939's `SPN >> 11 & 0b11100000`.
namespace sumplog {
namespace {

using isotp_words::announcement;
using isotp_words::frame;
using isotp_words::kBam;
using isotp_words::kStart;
using isotp_words::packet;
using Bytes = std::vector<std::uint8_t>;

DiagnosticMessage read(const Bytes& payload) {
  const auto message = read_diagnostic_message(payload);
  EXPECT_TRUE(message.has_value());
  return message.value_or(DiagnosticMessage{});
}
DiagnosticMessageError refused(const Bytes& payload) {
  const auto message = read_diagnostic_message(payload);
  EXPECT_FALSE(message.has_value());
  return message ? DiagnosticMessageError{} : message.error();
}

void expect_code(const Bytes& bytes, std::uint32_t spn, int fmi, int occurred, bool method) {
  const SpnCode code = spn_code(std::span<const std::uint8_t, 4>(bytes));
  EXPECT_EQ(code.spn, spn);
  EXPECT_EQ(code.fmi, fmi);
  EXPECT_EQ(code.occurred, static_cast<std::uint8_t>(occurred));
  EXPECT_EQ(code.conversion_method, method);
  EXPECT_TRUE(std::equal(bytes.begin(), bytes.end(), code.raw.begin()));
}

TEST(DiagnosticMessage, ReadsACodeFromItsFourBytes) {
  // docs.rs/j1939 src/diagnostic.rs, its tests 1 to 3
  expect_code({0x9F, 0x00, 0x03, 0x01}, 159, 3, 1, false);
  expect_code({0xFB, 0x06, 0x0B, 0x32}, 1787, 11, 50, false);
  expect_code({0x7F, 0x02, 0x02, 0x00}, 639, 2, 0, false);
  // worked out by hand from the layout of Open-SAE-J1939 DM1.c; SPN 177 is the transmission oil temperature
  expect_code({0xB1, 0x00, 0x03, 0x05}, 177, 3, 5, false);
  expect_code({0x7E, 0x00, 0x0A, 0x02}, 126, 10, 2, false);
  expect_code({0xFF, 0xFF, 0xE3, 0x81}, 524287, 3, 1, true);
  expect_code({0xB1, 0x00, 0x00, 0x85}, 177, 0, 5, true);
  expect_code({0x01, 0x00, 0x20, 0x01}, 65537, 0, 1, false);      // the lowest of the high bits
  expect_code({0x00, 0x00, 0x9F, 0x7E}, 262144, 31, 126, false);  // the highest, and the highest count
}

TEST(DiagnosticMessage, AUnitThatDoesNotCountHasNoOccurrences) {
  // CODESYS IoDrvJ1939 documentation: 0…126, 127 is "not available"
  EXPECT_EQ(spn_code(std::array<std::uint8_t, 4>{0xB1, 0x00, 0x03, 0x7F}).occurred, std::nullopt);
  EXPECT_EQ(spn_code(std::array<std::uint8_t, 4>{0xB1, 0x00, 0x03, 0xFF}).occurred, std::nullopt);
}

TEST(DiagnosticMessage, TellsTheLampsApart) {
  // docs.rs/j1939 src/diagnostic.rs, tests 1 and 3
  const Lamps three = read({0x57, 0xFF, 0x9F, 0x00, 0x03, 0x01}).lamps;
  EXPECT_EQ(three.protect.state, LampState::not_available);
  EXPECT_EQ(three.amber_warning.state, LampState::on);
  EXPECT_EQ(three.red_stop.state, LampState::on);
  EXPECT_EQ(three.malfunction.state, LampState::on);
  EXPECT_EQ(three.malfunction.flash, LampFlash::steady);
  const Lamps one = read({0x40, 0xFF, 0x7F, 0x02, 0x02, 0x00}).lamps;
  EXPECT_EQ(one.malfunction, (Lamp{LampState::on, LampFlash::steady}));
  EXPECT_EQ(one.red_stop.state, LampState::off);
  EXPECT_EQ(one.amber_warning.state, LampState::off);
  EXPECT_EQ(one.protect.state, LampState::off);
}

TEST(DiagnosticMessage, TellsHowEachLampFlashes) {
  // Open-SAE-J1939 DM1.c: protect in the lowest bits, malfunction in the highest, of both bytes
  const Lamps lamps = read({0x55, 0b01'11'00'10, 0xB1, 0x00, 0x03, 0x05, 0xFF, 0xFF}).lamps;
  EXPECT_EQ(lamps.malfunction.flash, LampFlash::fast);
  EXPECT_EQ(lamps.red_stop.flash, LampFlash::steady);
  EXPECT_EQ(lamps.amber_warning.flash, LampFlash::slow);
  EXPECT_EQ(lamps.protect.flash, LampFlash::reserved);
}

TEST(DiagnosticMessage, ASingleFrameHoldsOneCodeAndFill) {
  const auto message = read({0x04, 0xFF, 0xB1, 0x00, 0x03, 0x05, 0xFF, 0xFF});
  ASSERT_EQ(message.codes.size(), 1U);
  EXPECT_EQ(message.codes[0].spn, 177U);
  EXPECT_EQ(message.without_number, 0U);
}

TEST(DiagnosticMessage, NoCodeIsNoCode) {
  // docs.rs/j1939 src/diagnostic.rs, test 4: four zero bytes; four FF from memory
  const auto zeros = read({0x00, 0xFF, 0x00, 0x00, 0x00, 0x00, 0xFF, 0xFF});
  EXPECT_TRUE(zeros.codes.empty());
  EXPECT_EQ(zeros.without_number, 0U);
  const auto fill = read({0x00, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF});
  EXPECT_TRUE(fill.codes.empty());
  EXPECT_EQ(fill.without_number, 0U);
}

TEST(DiagnosticMessage, AnEntryThatNamesNoParameterIsCountedAndIsNoCode) {
  // SPN 0 and 7FFFF: from memory
  const auto message =
      read({0x04, 0xFF, 0xFF, 0xFF, 0xE3, 0x81, 0x00, 0x00, 0x05, 0x01, 0xB1, 0x00, 0x03, 0x05});
  ASSERT_EQ(message.codes.size(), 1U);
  EXPECT_EQ(message.codes[0].spn, 177U);
  EXPECT_EQ(message.without_number, 2U);
}

TEST(DiagnosticMessage, AnAnnouncedMessageHoldsSeveral) {
  // SAE J1939-21 BAM of a DM1 with three entries; the bytes are made up from the layouts
  J1939Transport transport;
  const Bytes payload{0x04, 0xFF, 0xB1, 0x00, 0x00, 0x05, 0x7E, 0x00, 0x0A, 0x02, 0xB1, 0x00, 0x03, 0x85};
  std::optional<Message> whole;
  const auto take = [&](std::uint32_t id, const Bytes& bytes) {
    auto step = transport.on_frame(frame(kStart, extended_id(id), bytes));
    if (step.message) whole = std::move(step.message);
  };
  take(0x18ECFF03, announcement(kBam, payload.size(), kGroupActiveCodes));
  take(0x18EBFF03, packet(payload, 1));
  take(0x18EBFF03, packet(payload, 2));
  ASSERT_TRUE(whole);
  EXPECT_EQ(whole->group, kGroupActiveCodes);
  const auto message = read(whole->payload);
  ASSERT_EQ(message.codes.size(), 3U);
  EXPECT_EQ(message.codes[0].spn, 177U);
  EXPECT_EQ(message.codes[1].spn, 126U);
  EXPECT_EQ(message.codes[1].fmi, 10);
  EXPECT_TRUE(message.codes[2].conversion_method);
  EXPECT_EQ(message.lamps.amber_warning.state, LampState::on);
}

TEST(DiagnosticMessage, ACutCodeIsRefused) {
  for (const std::size_t length : {0U, 1U, 2U, 3U, 5U, 7U, 9U, 11U, 12U, 13U, 1785U})
    EXPECT_EQ(refused(Bytes(length, 0x11)), DiagnosticMessageError::wrong_length) << length;
  for (const std::size_t length : {6U, 10U, 14U, 1782U})
    EXPECT_EQ(read(Bytes(length, 0x11)).codes.size(), (length - 2) / 4) << length;
}

TEST(DiagnosticMessage, WhatFollowsTheCodeOfASingleFrameMustBeFill) {
  EXPECT_EQ(refused({0x04, 0xFF, 0xB1, 0x00, 0x03, 0x05, 0x7E, 0x00}), DiagnosticMessageError::remainder);
  EXPECT_EQ(text_of(DiagnosticMessageError::remainder), "bytes behind the last code");
  // zeros instead of FF hide nothing
  EXPECT_EQ(read({0x04, 0xFF, 0xB1, 0x00, 0x03, 0x05, 0x00, 0x00}).codes.size(), 1U);
}

TEST(DiagnosticMessage, AnyBytesAreAnsweredForInFull) {
  std::mt19937 random(73);
  std::uniform_int_distribution<int> byte(0, 255);
  std::uniform_int_distribution<std::size_t> length(0, 40);
  for (int i = 0; i < 5000; ++i) {
    Bytes payload(length(random));
    for (auto& one : payload) one = static_cast<std::uint8_t>(byte(random));
    const auto message = read_diagnostic_message(payload);
    if (!message) continue;
    std::size_t fill = 0;
    for (std::size_t at = 2; at + 4 <= payload.size(); at += 4) {
      const bool zeros = std::all_of(&payload[at], &payload[at] + 4, [](auto one) { return one == 0; });
      const bool full = std::all_of(&payload[at], &payload[at] + 4, [](auto one) { return one == 0xFF; });
      if (zeros || full) ++fill;
    }
    EXPECT_EQ(message->codes.size() + message->without_number + fill, (payload.size() - 2) / 4);
  }
}

}  // namespace
}  // namespace sumplog
