#include "app/rate_setting.h"

#include <cstdlib>

namespace sumplog {

Result<AskerSettings> asker_settings(const ProgramSettings& settings, BusName bus) {
  constexpr double kSlowest = 0.01;  // own choice: once in a hundred seconds, the window is long unknown then
  constexpr double kFastest = 100;   // own choice: no unit answers faster than every ten milliseconds
  const auto text = settings.value("rate");
  AskerSettings usual;
  usual.bus = bus;
  if (!text) return usual;
  char* end = nullptr;
  const double rate = std::strtod(text->c_str(), &end);
  if (text->empty() || *end != '\0' || !(rate >= kSlowest && rate <= kFastest))
    return fault("'" + *text + "' is not a number of readings a second", settings.place("rate"),
                 "from 0.01 to 100; the units and a tenth of the bus are the limit");
  return at_rate(bus, rate);
}

}  // namespace sumplog
