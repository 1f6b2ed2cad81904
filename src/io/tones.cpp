#include "io/tones.h"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <numbers>
#include <vector>

namespace sumplog {
namespace {

constexpr int kRate = 22'050;
constexpr double kLoudness = 0.9;       // of the largest sample
constexpr double kEdge_s = 0.008;       // a tone that begins at once clicks
constexpr double kThirdHarmonic = 0.3;  // carries through the noise of a workshop better than a bare sine

struct Tone {
  double hertz = 0;  ///< 0: silence
  double lasts_s = 0;
};

std::vector<Tone> figure(CueSound sound) {
  switch (sound) {
    case CueSound::ready: return {{660, 0.25}, {0, 0.05}, {990, 0.35}};
    case CueSound::now: {
      std::vector<Tone> beats;
      for (int i = 0; i < 6; ++i) beats.insert(beats.end(), {{1480, 0.10}, {0, 0.08}});
      return beats;
    }
    case CueSound::plug_in: {
      std::vector<Tone> turns;
      for (int i = 0; i < 4; ++i) turns.insert(turns.end(), {{440, 0.25}, {311, 0.25}});
      return turns;
    }
  }
  return {};
}

void append(std::vector<std::int16_t>& samples, const Tone& tone) {
  const int count = static_cast<int>(tone.lasts_s * kRate);
  for (int i = 0; i < count; ++i) {
    const double t = static_cast<double>(i) / kRate;
    const double turn = 2 * std::numbers::pi * tone.hertz * t;
    const double edge = std::min({1.0, t / kEdge_s, (tone.lasts_s - t) / kEdge_s});
    const double wave = (std::sin(turn) + kThirdHarmonic * std::sin(3 * turn)) / (1 + kThirdHarmonic);
    samples.push_back(static_cast<std::int16_t>(std::lround(wave * edge * kLoudness * INT16_MAX)));
  }
}

void put(std::string& bytes, std::uint32_t value, int count) {
  for (int i = 0; i < count; ++i) bytes += static_cast<char>(value >> (8 * i));  // little endian
}

}  // namespace

std::string wav_of(CueSound sound) {
  std::vector<std::int16_t> samples;
  for (const Tone& tone : figure(sound)) append(samples, tone);
  const auto data = static_cast<std::uint32_t>(samples.size() * sizeof(std::int16_t));
  constexpr std::uint32_t kHeadBehindSize = 36;
  constexpr std::uint32_t kFormatSize = 16;
  std::string bytes = "RIFF";
  put(bytes, kHeadBehindSize + data, 4);
  bytes += "WAVEfmt ";
  put(bytes, kFormatSize, 4);
  put(bytes, 1, 2);  // PCM
  put(bytes, 1, 2);  // one channel
  put(bytes, kRate, 4);
  put(bytes, kRate * 2, 4);  // bytes a second
  put(bytes, 2, 2);          // bytes a sample
  put(bytes, 16, 2);         // bits a sample
  bytes += "data";
  put(bytes, data, 4);
  for (const std::int16_t sample : samples) put(bytes, static_cast<std::uint16_t>(sample), 2);
  return bytes;
}

}  // namespace sumplog
