#include "core/learn/field.h"

#include <gtest/gtest.h>

#include <algorithm>

#include "core/decoder/decoder.h"
#include "core/vehicle/random.h"

namespace sumplog {
namespace {

ByteSource broadcast(std::uint8_t length) {
  ByteSource source;
  source.from = {BusName("can0"), standard_id(0x3B2), std::nullopt};
  source.length = length;
  return source;
}

TEST(Field, ReadsWhatADecoderReadsFromTheSameBits) {
  Random random(5);
  for (const Field& field : fields_of(broadcast(8))) {
    std::vector<std::uint8_t> payload(8);
    for (auto& byte : payload) byte = static_cast<std::uint8_t>(random.next());
    Signal signal;
    signal.length = 8;
    signal.start_bit = field.start_bit;
    signal.bit_length = field.bit_length;
    signal.byte_order = field.byte_order;
    signal.is_signed = field.is_signed;
    ASSERT_EQ(field.raw(payload), raw_value(signal, payload)) << text_of(field);
    const std::int32_t raw = field.raw(payload);
    std::vector<std::uint8_t> other(8, 0xA5);
    field.put(other, raw);
    ASSERT_EQ(raw_value(signal, other), raw) << text_of(field);
  }
}

TEST(Field, AnAnswerIsLookedAtByWholeBytesAndABroadcastByBits) {
  ByteSource answer = broadcast(3);
  answer.asked = Endpoint{BusName("can0"), standard_id(0x7E1), std::nullopt};
  for (const Field& field : fields_of(answer)) EXPECT_TRUE(field.whole_bytes()) << text_of(field);
  EXPECT_EQ(fields_of(answer).size(), 3U * 2 + 2U * 4)
      << "three bytes, two pairs in both orders, each with and without sign";
  const auto packed = fields_of(broadcast(3));
  EXPECT_TRUE(std::any_of(packed.begin(), packed.end(),
                          [](const Field& f) { return f.start_bit == 5 && f.bit_length == 12; }));
}

TEST(Field, NothingIsReadBehindTheEnd) {
  for (std::uint8_t length = 1; length <= 8; ++length)
    for (const Field& field : fields_of(broadcast(length)))
      EXPECT_LE(field.start_bit + field.bit_length, length * 8) << text_of(field);
}

TEST(Field, MeetsWhatSharesABit) {
  const Field high{0, 8, ByteOrder::big, false}, pair{0, 16, ByteOrder::little, false},
      next{8, 8, ByteOrder::big, true};
  EXPECT_TRUE(high.meets(pair));
  EXPECT_TRUE(next.meets(pair));
  EXPECT_FALSE(high.meets(next));
  // Bits 0…3 by weight are the low half of byte 0, as they are read they are its high half.
  EXPECT_FALSE((Field{0, 4, ByteOrder::little, false}.meets({0, 4, ByteOrder::big, false})));
}

TEST(Field, IsCalledByItsBytes) {
  EXPECT_EQ(text_of(Field{24, 8, ByteOrder::big, false}), "byte 3");
  EXPECT_EQ(text_of(Field{32, 16, ByteOrder::little, false}), "bytes 4-5, little");
  EXPECT_EQ(text_of(Field{3, 8, ByteOrder::big, false}), "bits 3-10, big") << "eight bits of two bytes";
  EXPECT_EQ(text_of(Field{4, 12, ByteOrder::big, true}), "bits 4-15, big, signed");
}

}  // namespace
}  // namespace sumplog
