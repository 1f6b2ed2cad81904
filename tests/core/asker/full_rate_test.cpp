#include <cstdio>

#include "core/asker/live_vehicle.h"

// How fast readings come when a person asks for as many as possible. The unit answers 20 ms after the request, so
// at most 50 requests a second are possible, one outstanding at a time. Ratios only, in virtual time.

namespace sumplog::testing {
namespace {

using namespace std::chrono_literals;

constexpr double kMostRequests = 50;  // a second: 1 / 20 ms

/// Several signals of one unit, all by PID: SAE J1979 has up to six in one request.
Scenario one_unit(int bit_rate) {
  return scenario_from(
      "format = 1\ntitle = \"rate\"\nlasts_s = 3600\n[bus]\nbit_rate = " + std::to_string(bit_rate) + R"(
[vehicle]
ambient_c = 20
fluid_c = 30
coolant_c = 40
engine = "running"
[[ecu]]
id = "transmission"
request = 0x7E1
response = 0x7E9
pids = [0x05, 0x0C, 0x0D, 0x0F, 0x42, 0x46]
answer_after_s = 0.02
[[ecu.did]]
did = 0x1A05
signal = "fluid_temperature"
offset = -40
[[ecu.did]]
did = 0x1A06
hex = "00"
)");
}

struct Measured {
  double requests = 0;  ///< a second
  double fluid = 0;     ///< readings of the fluid temperature a second
  double all = 0;       ///< readings of all signals a second
  double load = 0;
};

Measured measure(int bit_rate, std::optional<AskerSettings> asking) {
  LiveVehicle car(one_unit(bit_rate), demo_opening(), asking);
  car.run_for(10s);
  const TimePoint from = car.now();
  car.run_for(60s);
  const double seconds = in_seconds(car.now() - from);
  Measured m;
  m.requests = static_cast<double>(car.sent(from).size()) / seconds;
  m.fluid = static_cast<double>(car.readings("fluid_temperature", from)) / seconds;
  m.all = static_cast<double>(car.all<ReadingEvent>(from).size()) / seconds;
  m.load = car.load(from);
  return m;
}

AskerSettings with_bit_rate(AskerSettings settings, int bit_rate) {
  settings.bit_rate = static_cast<std::uint32_t>(bit_rate);
  return settings;
}

TEST(FullRate, AsManyReadingsAsUnitAndBusAllow) {
  std::printf("  bit rate  asked for  requests/s  of 50   fluid/s  all/s   load\n");
  for (const int bit_rate : {250'000, 500'000}) {
    const double most_by_bus = kMostShare * bit_rate / 270;  // request and answer, 135 bits each
    const double possible = std::min(kMostRequests, most_by_bus);
    for (const double rate : {0.0, 10.0, 20.0, 100.0}) {
      const auto asking = rate > 0 ? at_rate({}, rate) : AskerSettings{};
      const Measured m = measure(bit_rate, with_bit_rate(asking, bit_rate));
      std::printf("  %8d  %9s  %10.1f  %4.0f %%  %7.2f  %6.2f  %4.2f %%\n", bit_rate,
                  rate > 0 ? std::to_string(static_cast<int>(rate)).c_str() : "-", m.requests,
                  100 * m.requests / kMostRequests, m.fluid, m.all, 100 * m.load);
      EXPECT_LE(m.load, rate > 0 ? kMostShare : kUsualShare) << bit_rate << " " << rate;
      EXPECT_LE(m.requests, kMostRequests);
      if (rate < 100) {
        const double wanted = rate > 0 ? rate : kUsualReadingsPerSecond;
        EXPECT_GE(m.fluid, 0.9 * wanted) << bit_rate;
        EXPECT_LE(m.fluid, 1.01 * wanted) << bit_rate;
      } else {
        EXPECT_GE(m.requests, 0.85 * possible) << bit_rate;
        EXPECT_GE(m.fluid, 0.4 * possible) << "the temperature comes first";
        EXPECT_GE(m.all, 1.05 * m.fluid) << "but not alone";
      }
    }
  }
}

TEST(FullRate, SeveralParametersInOneRequestGiveMoreReadingsThanRequests) {
  // Only PIDs: without the transmission's own identifiers every request carries as many as are due.
  auto header = demo_opening();
  header.resize(2);  // settings and obd-generic
  LiveVehicle car(one_unit(500'000), header, with_bit_rate(at_rate({}, 100), 500'000));
  car.run_for(10s);
  const TimePoint from = car.now();
  car.run_for(60s);
  const auto requests = car.sent(from).size();
  const auto readings = car.all<ReadingEvent>(from).size();
  EXPECT_GE(static_cast<double>(readings), 1.4 * static_cast<double>(requests));
  EXPECT_LE(car.load(from), kMostShare);
}

TEST(FullRate, AnUnknownBitRateCountsAsTheSlowerUsualOne) {
  const Measured unknown = measure(250'000, at_rate({}, 100));
  EXPECT_LE(unknown.load, kMostShare);
}

}  // namespace
}  // namespace sumplog::testing
