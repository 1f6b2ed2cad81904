#pragma once
#include <string>

// Words for tests of a unit's fault memory.
namespace sumplog::testing_vehicle {

/// One unit with this memory and these codes, in a vehicle that stands with a running engine.
inline std::string with_memory(const std::string& memory, const std::string& codes,
                               const std::string& more = {}) {
  return "format = 1\ntitle = \"t\"\nlasts_s = 600\n[vehicle]\nambient_c = 20\ncoolant_c = 83\nengine = "
         "\"running\"\n"
         "odometer_km = 1000\n[[ecu]]\nid = \"transmission\"\nrequest = 0x7E1\nresponse = 0x7E9\n"
         "pids = [0x01, 0x21, 0x30, 0x31, 0x42, 0x4D, 0x4E]\n[ecu.memory]\n" +
         memory + "\n" + codes + more;
}

inline constexpr char kIso[] = "services = [\"ISO 14229\"]\navailability = 0x7F";
inline constexpr char kJ1979[] = "services = [\"J1979\"]";

}  // namespace sumplog::testing_vehicle
