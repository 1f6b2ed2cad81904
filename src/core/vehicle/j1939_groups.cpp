#include "core/vehicle/j1939_groups.h"

#include <algorithm>
#include <cassert>

#include "core/vehicle/field_bytes.h"

namespace sumplog {
namespace {

constexpr std::uint8_t kNotAvailable = 0xFF;  // SAE J1939-71
constexpr std::size_t kFrameBytes = 8;
constexpr std::uint32_t kDestinationLimit =
    0xF000;  // PGN below EF00: byte 1 of the identifier is a destination
constexpr std::uint32_t kPgnMask = 0x3FF00;

constexpr std::uint32_t kTransportManagement = 60416;  // SAE J1939-21, TP.CM
constexpr std::uint32_t kTransportData = 60160;        // SAE J1939-21, TP.DT
constexpr unsigned kTransportPriority = 7;             // SAE J1939-21, default of both
constexpr std::uint8_t kAnnounce = 32;                 // SAE J1939-21, control byte of BAM
constexpr std::uint8_t kEverybody = 255;               // SAE J1939-21, global address
constexpr std::size_t kPacketBytes = 7;
constexpr std::size_t kMostAnnounced = 1785;  // bytes, SAE J1939-21

constexpr unsigned kBitsPerByte = 8;

std::uint8_t byte_of(std::size_t value, unsigned index) {
  return static_cast<std::uint8_t>(value >> (index * kBitsPerByte));
}

FieldCoding little(int bytes, double scale, double offset) {
  FieldCoding coding;
  coding.bytes = bytes;
  coding.byte_order = ByteOrder::little;
  coding.scale = scale;
  coding.offset = offset;
  return coding;
}

/// Puts a field at `byte`, counted from 1 as SAE J1939-71 does.
void put(std::vector<std::uint8_t>& data, std::size_t byte, const std::vector<std::uint8_t>& field) {
  std::copy(field.begin(), field.end(), data.begin() + static_cast<std::ptrdiff_t>(byte - 1));
}

}  // namespace

std::uint32_t pgn_of(BroadcastGroup group) {
  switch (group) {  // SAE J1939-71
    case BroadcastGroup::engine_speed: return 61444;
    case BroadcastGroup::gears: return 61445;
    case BroadcastGroup::vehicle_identification: return 65260;
    case BroadcastGroup::engine_temperature: return 65262;
    case BroadcastGroup::vehicle_speed: return 65265;
    case BroadcastGroup::transmission_fluids: return 65272;
  }
  return 0;  // not reached: every group is above
}

std::vector<std::uint8_t> group_data(BroadcastGroup group, const std::string& vin,
                                     const Drivetrain& drivetrain) {
  std::vector<std::uint8_t> data(kFrameBytes, kNotAvailable);
  switch (group) {
    case BroadcastGroup::engine_speed:  // SPN 190: byte 4, 0.125 rpm
      put(data, 4, field_bytes(little(2, 0.125, 0), Quantity::engine_speed, drivetrain));
      break;
    case BroadcastGroup::gears: {  // SPN 524: byte 1, SPN 523: byte 4, both offset -125; FB is park
      constexpr std::uint8_t kPark = 0xFB;
      constexpr double kGearOffset = -125;
      const auto position = static_cast<SelectorPosition>(
          static_cast<std::uint8_t>(drivetrain.value(Quantity::selector_position)));
      const FieldCoding gear = little(1, 1, kGearOffset);
      const double current = drivetrain.value(Quantity::actual_gear);
      switch (position) {
        case SelectorPosition::park: data[0] = kPark; break;
        case SelectorPosition::reverse: put(data, 1, field_bytes(gear, -1)); break;
        case SelectorPosition::neutral: put(data, 1, field_bytes(gear, 0)); break;
        case SelectorPosition::drive: put(data, 1, field_bytes(gear, std::max(current, 1.0))); break;
      }
      put(data, 4, field_bytes(gear, position == SelectorPosition::reverse ? -1 : current));
      break;
    }
    case BroadcastGroup::vehicle_identification:  // SPN 237, ended by an asterisk
      data.assign(vin.begin(), vin.end());
      data.push_back('*');
      break;
    case BroadcastGroup::engine_temperature:  // SPN 110: byte 1, 1 °C, offset -40
      put(data, 1, field_bytes(little(1, 1, -40), Quantity::coolant_temperature, drivetrain));
      break;
    case BroadcastGroup::vehicle_speed:  // SPN 84: bytes 2 and 3, 1/256 km/h
      put(data, 2, field_bytes(little(2, 1.0 / 256, 0), Quantity::vehicle_speed, drivetrain));
      break;
    case BroadcastGroup::transmission_fluids:  // SPN 177: bytes 5 and 6, 0.03125 °C, offset -273
      put(data, 5, field_bytes(little(2, 0.03125, -273), Quantity::fluid_temperature, drivetrain));
      break;
  }
  return data;
}

CanId j1939_id(unsigned priority, std::uint32_t pgn, std::uint8_t destination, std::uint8_t source) {
  constexpr unsigned kPriorityShift = 26;
  std::uint32_t id = priority << kPriorityShift | (pgn & kPgnMask) << kBitsPerByte;
  id |= ((pgn & 0xFF00U) < kDestinationLimit ? std::uint32_t{destination} : pgn & 0xFFU) << kBitsPerByte;
  return extended_id(id | source);
}

std::vector<CanFrame> announce_frames(std::uint32_t pgn, std::uint8_t source,
                                      std::span<const std::uint8_t> data) {
  assert(data.size() > kFrameBytes && data.size() <= kMostAnnounced);
  const std::size_t packets = (data.size() + kPacketBytes - 1) / kPacketBytes;
  // TP.CM_BAM: control | size u16 | packets | FF | PGN u24, little-endian
  const std::array<std::uint8_t, kFrameBytes> announcement{
      kAnnounce,     byte_of(data.size(), 0), byte_of(data.size(), 1), byte_of(packets, 0),
      kNotAvailable, byte_of(pgn, 0),         byte_of(pgn, 1),         byte_of(pgn, 2)};
  std::vector<CanFrame> frames{data_frame(
      {}, {}, j1939_id(kTransportPriority, kTransportManagement, kEverybody, source), announcement)};
  for (std::size_t i = 0; i < packets; ++i) {
    std::vector<std::uint8_t> packet{byte_of(i + 1, 0)};
    const std::size_t from = i * kPacketBytes;
    for (std::size_t k = from; k < from + kPacketBytes; ++k)
      packet.push_back(k < data.size() ? data[k] : kNotAvailable);
    frames.push_back(
        data_frame({}, {}, j1939_id(kTransportPriority, kTransportData, kEverybody, source), packet));
  }
  return frames;
}

}  // namespace sumplog
