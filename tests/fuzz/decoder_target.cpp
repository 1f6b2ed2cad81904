#include <cmath>

#include "core/decoder/decoder.h"
#include "fuzz/target.h"

namespace sumplog::fuzz {
namespace {

/// Bytes that a vehicle could send for this decoder: every value of one byte, repeated.
void decode_everything(const Decoder& decoder) {
  constexpr int kValues = 256;
  for (const Signal& signal : decoder.signals) {
    for (int value = 0; value < kValues; value += 5) {
      const std::vector<std::uint8_t> data(static_cast<std::size_t>(signal.length),
                                           static_cast<std::uint8_t>(value));
      const auto read = decode(signal, data);
      if (!read) continue;
      require(std::isfinite(*read), "a reading is no number");
      require(*read >= signal.valid_low && *read <= signal.valid_high,
              "a reading is outside its signal's range");
    }
    require(!decode(signal, {}), "nothing is a reading");
  }
  for (const AddressRange& range : decoder.ranges)
    require(!addresses_of(range).empty(), "a range without an address");
}

void take(Bytes bytes) {
  const auto decoder = parse_decoder(text_of(bytes), "fuzz.toml");
  if (!decoder)
    require(decoder.error().place.starts_with("fuzz.toml"), "a mistake without its place");
  else
    decode_everything(*decoder);
}
const Registered kTarget("decoder", take);

}  // namespace
}  // namespace sumplog::fuzz
