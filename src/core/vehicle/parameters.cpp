#include "core/vehicle/parameters.h"

#include <algorithm>
#include <array>
#include <cassert>

#include "core/vehicle/fault_memory.h"
#include "core/vehicle/field_bytes.h"

namespace sumplog {
namespace {

/// A parameter that is one field: PID, quantity, bytes, scale, offset.
struct PlainParameter {
  std::uint8_t pid;
  Quantity quantity;
  int bytes;
  double scale;
  double offset;
};

constexpr double kPercentOfByte = 100.0 / 255.0;

// SAE J1979: value = raw * scale + offset.
constexpr std::array<PlainParameter, 10> kPlain{{
    {0x04, Quantity::engine_load, 1, kPercentOfByte, 0},
    {0x05, Quantity::coolant_temperature, 1, 1, -40},
    {0x0C, Quantity::engine_speed, 2, 0.25, 0},
    {0x0D, Quantity::vehicle_speed, 1, 1, 0},
    {0x0F, Quantity::intake_air_temperature, 1, 1, -40},
    {0x11, Quantity::throttle_position, 1, kPercentOfByte, 0},
    {0x1F, Quantity::engine_run_time, 2, 1, 0},
    {0x42, Quantity::module_voltage, 2, 0.001, 0},
    {0x46, Quantity::ambient_temperature, 1, 1, -40},
    {0x5C, Quantity::engine_oil_temperature, 1, 1, -40},
}};

/// A parameter that never changes while the simulation runs.
struct ConstantParameter {
  std::uint8_t pid;
  std::array<std::uint8_t, 4> bytes;
  std::size_t size;
};
constexpr std::array<ConstantParameter, 2> kConstant{{
    {0x1C, {0x06}, 1},  // European OBD
    {0x33, {0x65}, 1},  // 101 kPa barometric
}};

constexpr std::uint8_t kActualGear = 0xA4;
constexpr std::uint8_t kGearAndRatioSupported = 0x03;
constexpr unsigned kGearShift = 4;
// Invented nine-speed box: 1000 × ratio of gear 1…9; 0 in neutral.
constexpr std::array<std::uint16_t, 10> kRatio{0, 4700, 2840, 1910, 1380, 1000, 810, 700, 580, 480};

constexpr std::uint8_t kOdometer = 0xA6;
constexpr double kOdometerScale = 0.1;  // km

constexpr unsigned kRange = 0x20;  // parameters that one bitmap tells of
constexpr unsigned kBitsPerByte = 8;
constexpr std::uint8_t kHighestBit = 0x80;

template <class Table>
auto find_pid(const Table& table, std::uint8_t pid) {
  return std::find_if(table.begin(), table.end(), [pid](const auto& row) { return row.pid == pid; });
}

}  // namespace

bool is_known_parameter(std::uint8_t pid) {
  return find_pid(kPlain, pid) != kPlain.end() || find_pid(kConstant, pid) != kConstant.end() ||
         pid == kActualGear || pid == kOdometer || FaultMemory::tells(pid);
}

std::vector<std::uint8_t> parameter_bytes(std::uint8_t pid, const Drivetrain& drivetrain) {
  if (const auto plain = find_pid(kPlain, pid); plain != kPlain.end()) {
    FieldCoding coding;
    coding.bytes = plain->bytes;
    coding.scale = plain->scale;
    coding.offset = plain->offset;
    return field_bytes(coding, drivetrain.value(plain->quantity));
  }
  if (const auto constant = find_pid(kConstant, pid); constant != kConstant.end()) {
    return {constant->bytes.begin(), constant->bytes.begin() + static_cast<std::ptrdiff_t>(constant->size)};
  }
  if (pid == kActualGear) {
    const auto gear = static_cast<std::size_t>(drivetrain.value(Quantity::actual_gear));
    const std::uint16_t ratio = kRatio.at(gear);
    return {kGearAndRatioSupported, static_cast<std::uint8_t>(gear << kGearShift),
            static_cast<std::uint8_t>(ratio >> kBitsPerByte), static_cast<std::uint8_t>(ratio)};
  }
  assert(pid == kOdometer);
  FieldCoding coding;
  coding.bytes = 4;
  coding.scale = kOdometerScale;
  coding.rounding = Rounding::floor;
  return field_bytes(coding, drivetrain.value(Quantity::odometer));
}

std::vector<std::uint8_t> support_bitmap(std::span<const std::uint8_t> supported, std::uint8_t base) {
  std::vector<std::uint8_t> bytes(kRange / kBitsPerByte);
  const auto set = [&bytes](unsigned bit) {
    bytes[bit / kBitsPerByte] =
        static_cast<std::uint8_t>(bytes[bit / kBitsPerByte] | kHighestBit >> (bit % kBitsPerByte));
  };
  for (const std::uint8_t pid : supported) {
    if (pid > base + kRange) {
      set(kRange - 1);
    } else if (pid > base) {
      set(pid - base - 1U);
    }
  }
  return bytes;
}

bool has_bitmap(std::span<const std::uint8_t> supported, std::uint8_t base) {
  return base == 0 || (!supported.empty() && supported.back() > base);
}

}  // namespace sumplog
