#include <gtest/gtest.h>

#include <cmath>
#include <random>
#include <string>

#include "core/decoder/decoder.h"

namespace sumplog {
namespace {

Signal field(int length, int start_bit, int bit_length, ByteOrder order, bool is_signed = false) {
  Signal signal;
  signal.length = length;
  signal.start_bit = start_bit;
  signal.bit_length = bit_length;
  signal.byte_order = order;
  signal.is_signed = is_signed;
  signal.valid_low = -1e18;
  signal.valid_high = 1e18;
  return signal;
}

using Bytes = std::vector<std::uint8_t>;

/// Slow and obvious: writes the payload as a text of '0' and '1', cuts the field out of the text, counts it
/// up. Big: bytes in order, each from its most significant bit. Little: bytes in reverse order, so that the
/// whole payload is one number whose last character is bit 0.
std::int64_t reference(const Signal& signal, const Bytes& data) {
  std::string text;
  for (std::size_t i = 0; i < data.size(); ++i) {
    const std::uint8_t byte = signal.byte_order == ByteOrder::big ? data[i] : data[data.size() - 1 - i];
    for (int weight = 128; weight > 0; weight /= 2) text += byte / weight % 2 == 1 ? '1' : '0';
  }
  const auto bits = static_cast<std::size_t>(signal.bit_length);
  const auto start = static_cast<std::size_t>(signal.start_bit);
  const std::string cut = signal.byte_order == ByteOrder::big ? text.substr(start, bits)
                                                              : text.substr(text.size() - start - bits, bits);
  std::int64_t value = 0;
  for (std::size_t i = 0; i < cut.size(); ++i) {
    const bool sign = i == 0 && signal.is_signed;
    value = value * 2 + (cut[i] == '1' ? (sign ? -1 : 1) : 0);
  }
  return value;
}

TEST(RawValue, AgreesWithASlowReferenceAtEveryStartBitLengthOrderAndSign) {
  std::mt19937 random{20240101};
  constexpr int kBytes = 8;
  constexpr int kBits = kBytes * 8;
  for (const ByteOrder order : {ByteOrder::big, ByteOrder::little}) {
    for (int start = 0; start < kBits; ++start) {
      // The reference counts in int64: an unsigned field of 64 bits has no place in it.
      for (int bits = 1; start + bits <= kBits; ++bits) {
        for (const bool is_signed : {false, true}) {
          if (bits == kBits && !is_signed) continue;
          const Signal signal = field(kBytes, start, bits, order, is_signed);
          for (int round = 0; round < 3; ++round) {
            Bytes data(kBytes);
            for (auto& byte : data) byte = static_cast<std::uint8_t>(random());
            ASSERT_EQ(raw_value(signal, data), reference(signal, data))
                << "order " << (order == ByteOrder::big ? "big" : "little") << " start " << start << " bits "
                << bits << " signed " << is_signed;
          }
        }
      }
    }
  }
}

TEST(RawValue, BigEndianCountsBitsInReadingOrder) {
  // The drawing of docs/decoder_format.md: 12 bits from bit 4 of 0A BC 00 are ABC.
  EXPECT_EQ(raw_value(field(3, 4, 12, ByteOrder::big), Bytes{0x0A, 0xBC, 0x00}), 0xABC);
}

TEST(RawValue, LittleEndianCountsBitsFromTheLeastSignificant) {
  // The drawing of docs/decoder_format.md: 12 bits from bit 4 of C0 AB 00 are ABC.
  EXPECT_EQ(raw_value(field(3, 4, 12, ByteOrder::little), Bytes{0xC0, 0xAB, 0x00}), 0xABC);
}

TEST(RawValue, SignIsTakenFromTheTopBitOfTheField) {
  EXPECT_EQ(raw_value(field(1, 0, 8, ByteOrder::big, true), Bytes{0x80}), -128);
  EXPECT_EQ(raw_value(field(1, 0, 8, ByteOrder::big, true), Bytes{0x7F}), 127);
  EXPECT_EQ(raw_value(field(1, 0, 8, ByteOrder::big, false), Bytes{0x80}), 128);
  EXPECT_EQ(raw_value(field(1, 4, 4, ByteOrder::big, true), Bytes{0x7F}), -1);
  EXPECT_EQ(raw_value(field(2, 0, 16, ByteOrder::little, true), Bytes{0xFE, 0xFF}), -2);
}

Signal one_byte_temperature() {
  Signal signal = field(1, 0, 8, ByteOrder::big);
  signal.offset = -40;
  signal.valid_low = -40;
  signal.valid_high = 150;
  signal.no_value = {{0xFE, 0xFE, "error"}, {0xFF, 0xFF, "not available"}};
  return signal;
}

TEST(Decode, GivesRawTimesScalePlusOffset) {
  EXPECT_EQ(decode(one_byte_temperature(), Bytes{0x00}).value(), -40.0);
  EXPECT_EQ(decode(one_byte_temperature(), Bytes{0x4F}).value(), 39.0);
  EXPECT_EQ(decode(one_byte_temperature(), Bytes{0xBE}).value(), 150.0);
}

TEST(Decode, RefusesAPayloadThatIsShorterOrLonger) {
  EXPECT_EQ(decode(one_byte_temperature(), Bytes{}).error(), DecodeError::wrong_length);
  EXPECT_EQ(decode(one_byte_temperature(), Bytes{0x4F, 0x00}).error(), DecodeError::wrong_length);
}

TEST(Decode, SaysNotAvailableForANoValuePattern) {
  EXPECT_EQ(decode(one_byte_temperature(), Bytes{0xFE}).error(), DecodeError::not_available);
  EXPECT_EQ(decode(one_byte_temperature(), Bytes{0xFF}).error(), DecodeError::not_available);
  const Signal signal = one_byte_temperature();
  const RawPattern* pattern = no_value_pattern(signal, Bytes{0xFE});
  ASSERT_NE(pattern, nullptr);
  EXPECT_EQ(pattern->meaning, "error");
}

TEST(Decode, SaysOutOfRangeBesideTheValidRange) {
  EXPECT_EQ(decode(one_byte_temperature(), Bytes{0xBF}).error(), DecodeError::out_of_range);
}

TEST(Decode, AsksForTheLengthFirstThenForNoValueThenForTheRange) {
  // FF is a no-value pattern and out of range too; two bytes FF are of the wrong length before anything else.
  EXPECT_EQ(decode(one_byte_temperature(), Bytes{0xFF, 0xFF}).error(), DecodeError::wrong_length);
  EXPECT_EQ(decode(one_byte_temperature(), Bytes{0xFF}).error(), DecodeError::not_available);
}

TEST(Decode, ANoValuePatternIsComparedWithTheBitsBeforeTheSign) {
  Signal signal = field(2, 0, 16, ByteOrder::big, true);
  signal.no_value = {{0x8000, 0x8000, "not available"}};
  EXPECT_EQ(decode(signal, Bytes{0x80, 0x00}).error(), DecodeError::not_available);
  EXPECT_EQ(decode(signal, Bytes{0x80, 0x01}).value(), -32767.0);
}

TEST(Decode, TheRoundingOfADoubleDoesNotPushTheEndOfTheRangeOut) {
  Signal signal = field(1, 0, 8, ByteOrder::big);
  signal.scale = 0.39215686274509806;  // a little above 100/255
  signal.valid_low = 0;
  signal.valid_high = 100;
  EXPECT_EQ(decode(signal, Bytes{0xFF}).value(), 100.0) << "nor beyond it";
}

TEST(Decode, ANumberThatIsNoneIsNeverAReading) {
  Signal signal = one_byte_temperature();
  signal.scale = std::nan("");
  EXPECT_EQ(decode(signal, Bytes{0x4F}).error(), DecodeError::out_of_range);
}

// --- multiplexed frames ---

/// One bit of message 1 of cantools, tests/files/dbc/multiplex.dbc: "Multiplexor M : 2|6@1+".
Signal bit_of_cantools(int start_bit, std::uint64_t multiplexor) {
  Signal signal = field(8, start_bit, 1, ByteOrder::little);
  signal.multiplexor = Multiplexor{2, 6, ByteOrder::little, multiplexor};
  return signal;
}

TEST(Decode, AMultiplexedSignalIsReadWhereTheMultiplexorReadsItsValue) {
  // "BIT_J m8 : 18", "BIT_C m8 : 19", "BIT_G m8 : 23", "BIT_L m8 : 24", "BIT_A m24 : 26", each "|1@1+"
  const Bytes all_of_8{0x20, 0x00, 0x8C, 0x01, 0x00, 0x00, 0x00, 0x00};
  for (const int bit : {18, 19, 23, 24})
    EXPECT_EQ(decode(bit_of_cantools(bit, 8), all_of_8).value(), 1) << bit;
  EXPECT_EQ(decode(bit_of_cantools(26, 24), all_of_8).error(), DecodeError::not_here);
  const Bytes a_of_24{0x60, 0x00, 0x00, 0x04, 0x00, 0x00, 0x00, 0x00};
  EXPECT_EQ(decode(bit_of_cantools(26, 24), a_of_24).value(), 1);
  for (const int bit : {18, 19, 23, 24})
    EXPECT_EQ(decode(bit_of_cantools(bit, 8), a_of_24).error(), DecodeError::not_here) << bit;
}

TEST(Decode, AMultiplexorHasItsOwnByteOrder) {
  Signal signal = field(3, 0, 8, ByteOrder::little);
  signal.multiplexor = Multiplexor{12, 12, ByteOrder::big, 0xABC};
  EXPECT_TRUE(carries(signal, Bytes{0x55, 0x0A, 0xBC}));
  EXPECT_FALSE(carries(signal, Bytes{0x55, 0xA0, 0xCB}));
  signal.multiplexor->byte_order = ByteOrder::little;
  EXPECT_TRUE(carries(signal, Bytes{0x55, 0xC0, 0xAB}));
}

TEST(Decode, AsksForTheMultiplexorBehindTheLengthAndBeforeEverythingElse) {
  Signal signal = one_byte_temperature();
  signal.length = 2;
  signal.multiplexor = Multiplexor{8, 8, ByteOrder::big, 1};
  EXPECT_EQ(decode(signal, Bytes{0xFF}).error(), DecodeError::wrong_length);
  EXPECT_EQ(decode(signal, Bytes{0xFF, 0x02}).error(), DecodeError::not_here);
  EXPECT_EQ(decode(signal, Bytes{0xFF, 0x01}).error(), DecodeError::not_available);
  EXPECT_EQ(decode(signal, Bytes{0x4F, 0x01}).value(), 39);
}

TEST(Decode, FindsTheLabelOfARawValue) {
  Signal signal = field(1, 0, 8, ByteOrder::big);
  signal.labels = {{0, "P"}, {3, "D"}};
  EXPECT_EQ(label_of(signal, 3), "D");
  EXPECT_EQ(label_of(signal, 1), "");
}

TEST(Decode, EveryErrorAndOriginHasItsWords) {
  EXPECT_EQ(text_of(DecodeError::wrong_length), "wrong length");
  EXPECT_EQ(text_of(DecodeError::not_here), "not in this frame");
  EXPECT_EQ(text_of(DecodeError::not_available), "not available");
  EXPECT_EQ(text_of(DecodeError::out_of_range), "out of range");
  EXPECT_EQ(text_of(Origin::service_manual), "service manual");
}

}  // namespace
}  // namespace sumplog
