#include "core/learn/evidence.h"

#include <array>
#include <cmath>
#include <utility>

namespace sumplog {
namespace {

// Own choices, by what workshops report of cars that stood overnight (common practice, no source).
constexpr double kSaidSpread_c = 1.5;  // cold metal and fluid of one car differ by so much
constexpr double kConcludedSpread_c = 2.0;
constexpr double kConcludedSure = 0.85;  // a short drive before leaves coolant and fluid apart
constexpr double kAgreement_c = 4;       // coolant and air after a soak
constexpr double kColdestHot_c = 40;     // coolant above it is no cold start
constexpr Duration kBeginning = std::chrono::seconds{60};

}  // namespace

void Evidence::on_reading(const ReadingEvent& reading) {
  if (!reading.value) return;
  if (reading.quality == Quality::by_hand) {
    if (reading.signal == "fluid_temperature") seen.push_back({reading.at, *reading.value});
    return;
  }
  const std::array<std::pair<std::string_view, TimedValues*>, 6> known{{
      {"coolant_temperature", &coolant_c},
      {"engine_oil_temperature", &oil_c},
      {"ambient_temperature", &ambient_c},
      {"intake_air_temperature", &intake_c},
      {"engine_speed", &engine_rpm},
      {"vehicle_speed", &speed_kmh},
  }};
  for (const auto& [name, values] : known)
    if (reading.signal == name) values->add(reading.at, *reading.value);
}

std::optional<ColdSoak> cold_soak(const Evidence& evidence, TimePoint begin) {
  if (evidence.soak_c) return ColdSoak{*evidence.soak_c, kSaidSpread_c, 1};
  const auto coolant = evidence.coolant_c.near(begin, kBeginning);
  auto air = evidence.ambient_c.near(begin, kBeginning);
  if (!air) air = evidence.intake_c.near(begin, kBeginning);
  if (!coolant || !air || *coolant > kColdestHot_c || std::abs(*coolant - *air) > kAgreement_c)
    return std::nullopt;
  return ColdSoak{(*coolant + *air) / 2, kConcludedSpread_c, kConcludedSure};
}

}  // namespace sumplog
