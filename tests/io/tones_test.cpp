#include "io/tones.h"

#include <gtest/gtest.h>

#include <cmath>
#include <cstdint>
#include <cstring>
#include <numbers>
#include <vector>

namespace sumplog {
namespace {

constexpr std::size_t kHead = 44;

std::uint32_t number_at(const std::string& bytes, std::size_t at, int count) {
  std::uint32_t value = 0;
  for (int i = 0; i < count; ++i)
    value |= static_cast<std::uint32_t>(static_cast<unsigned char>(bytes[at + static_cast<std::size_t>(i)]))
             << (8 * i);
  return value;
}

std::vector<std::int16_t> samples_of(const std::string& wav) {
  std::vector<std::int16_t> samples((wav.size() - kHead) / 2);
  std::memcpy(samples.data(), wav.data() + kHead, samples.size() * 2);
  return samples;
}

/// How much of a frequency is in it. src  Goertzel's recurrence (1958), from memory
double share_of(const std::vector<std::int16_t>& samples, double hertz, double rate) {
  const double k = 2 * std::cos(2 * std::numbers::pi * hertz / rate);
  double a = 0;
  double b = 0;
  for (const std::int16_t sample : samples) {
    const double c = sample + k * a - b;
    b = a;
    a = c;
  }
  return std::sqrt(std::max(0.0, a * a + b * b - k * a * b)) / static_cast<double>(samples.size());
}

TEST(Tones, AreAWavFileOfTheLengthThatItsHeadSays) {
  const std::string wav = wav_of(CueSound::now);
  EXPECT_EQ(wav.substr(0, 4), "RIFF");
  EXPECT_EQ(wav.substr(8, 8), "WAVEfmt ");
  EXPECT_EQ(number_at(wav, 4, 4), wav.size() - 8);
  EXPECT_EQ(number_at(wav, 40, 4), wav.size() - kHead);
  EXPECT_EQ(number_at(wav, 22, 2), 1U) << "channels";
  EXPECT_EQ(number_at(wav, 24, 4), 22'050U);
}

TEST(Tones, EachHasAHeightOfItsOwn) {
  const double rate = 22'050;
  const auto ready = samples_of(wav_of(CueSound::ready));
  const auto now = samples_of(wav_of(CueSound::now));
  const auto plug_in = samples_of(wav_of(CueSound::plug_in));
  EXPECT_GT(share_of(now, 1480, rate), 10 * share_of(ready, 1480, rate));
  EXPECT_GT(share_of(now, 1480, rate), 10 * share_of(plug_in, 1480, rate));
  EXPECT_GT(share_of(plug_in, 311, rate), 10 * share_of(now, 311, rate));
  EXPECT_GT(share_of(ready, 660, rate), 10 * share_of(now, 660, rate));
}

TEST(Tones, ThePlugSoundsLongest) {
  EXPECT_GT(wav_of(CueSound::plug_in).size(), wav_of(CueSound::now).size());
  EXPECT_GT(wav_of(CueSound::now).size(), wav_of(CueSound::ready).size());
}

TEST(Tones, BeginAndEndQuietly) {
  for (const CueSound sound : {CueSound::ready, CueSound::now, CueSound::plug_in}) {
    const auto samples = samples_of(wav_of(sound));
    EXPECT_LT(std::abs(samples.front()), 100);
    EXPECT_LT(std::abs(samples.back()), 1500);
  }
}

}  // namespace
}  // namespace sumplog
