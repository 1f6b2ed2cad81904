#include "core/capture/socketcan_packet.h"

#include "core/capture/wire_bytes.h"

namespace sumplog {
namespace {

constexpr std::size_t kHeader = 8;
constexpr std::uint32_t kExtendedFlag = 0x80000000;  // linux/can.h, CAN_EFF_FLAG
constexpr std::uint32_t kRemoteFlag = 0x40000000;    // linux/can.h, CAN_RTR_FLAG
constexpr std::uint32_t kErrorFlag = 0x20000000;     // linux/can.h, CAN_ERR_FLAG
constexpr std::uint32_t kMaxStandard = 0x7FF;        // ISO 11898-1, 11 bit
constexpr std::uint32_t kMaxExtended = 0x1FFFFFFF;   // ISO 11898-1, 29 bit
constexpr unsigned kBrs = 1;                         // linux/can.h, CANFD_BRS
constexpr unsigned kEsi = 2;                         // linux/can.h, CANFD_ESI
constexpr unsigned kFdf = 4;                         // linux/can.h, CANFD_FDF
constexpr unsigned kXlf = 0x80;                      // linux/can.h, CANXL_XLF: in the place of the length
constexpr std::size_t kMaxClassic = 8;               // linux/can.h, CAN_MAX_DLEN
constexpr std::size_t kMaxFd = 64;                   // linux/can.h, CANFD_MAX_DLEN

unsigned byte_at(std::string_view bytes, std::size_t at) {
  return static_cast<unsigned char>(bytes[at]);
}

}  // namespace

Result<CanFrame, std::string> parse_socketcan_packet(std::string_view packet, TimePoint at, BusName bus) {
  const auto wrong = [](std::string why) { return tl::unexpected<std::string>(std::move(why)); };
  if (packet.size() < kHeader) return wrong("the packet is shorter than the 8 bytes before the data");
  const std::uint32_t id = wire_u32(packet, 0, WireOrder::big);
  const unsigned length = byte_at(packet, 4);
  const unsigned flags = byte_at(packet, 5);
  const bool reserved_is_clean =
      (flags & ~(kBrs | kEsi | kFdf)) == 0 && byte_at(packet, 6) == 0 && byte_at(packet, 7) == 0;

  CanFrame frame;
  frame.at = at;
  frame.bus = bus;
  if ((length & kXlf) != 0) return wrong("CAN XL frames are not read");
  if (length > kMaxFd) return wrong("data length " + std::to_string(length) + "; 0…64 are possible");
  if ((id & kErrorFlag) != 0) {
    frame.kind = FrameKind::error;
    frame.id = standard_id(id & kMaxExtended);
  } else {
    frame.id = CanId{id & kMaxExtended, (id & kExtendedFlag) != 0};
    if (!frame.id.extended && frame.id.value > kMaxStandard)
      return wrong("identifier of 11 bits is above 7FF");
    if ((id & kRemoteFlag) != 0) frame.kind = FrameKind::remote;
  }
  if (frame.kind != FrameKind::data) {
    if (length > kMaxClassic) return wrong("a remote or error frame of more than 8 bytes");
  } else {
    frame.fd = length > kMaxClassic || ((flags & kFdf) != 0 && reserved_is_clean);
  }
  if (frame.fd) {
    frame.bit_rate_switch = (flags & kBrs) != 0;
    frame.error_state = (flags & kEsi) != 0;
  }
  frame.length = static_cast<std::uint8_t>(length);
  if (frame.kind == FrameKind::remote) return frame;
  const std::string_view data = packet.substr(kHeader);
  if (data.size() < length)
    return wrong("the packet holds " + std::to_string(data.size()) + " of " + std::to_string(length) +
                 " data bytes");
  for (std::size_t i = 0; i < length; ++i) frame.bytes[i] = static_cast<std::uint8_t>(data[i]);
  return frame;
}

std::string socketcan_packet(const CanFrame& frame) {
  std::uint32_t id = frame.id.value & (frame.id.extended ? kMaxExtended : kMaxStandard);
  if (frame.id.extended) id |= kExtendedFlag;
  if (frame.kind == FrameKind::remote) id |= kRemoteFlag;
  if (frame.kind == FrameKind::error) id = (frame.id.value & kMaxExtended) | kErrorFlag;
  unsigned flags = 0;
  if (frame.fd) flags = kFdf | (frame.bit_rate_switch ? kBrs : 0U) | (frame.error_state ? kEsi : 0U);
  std::string packet;
  packet.reserve(kHeader + frame.data().size());
  put_u32(packet, id, WireOrder::big);
  put_number(packet, frame.length, 1, WireOrder::big);
  put_number(packet, flags, 1, WireOrder::big);
  put_u16(packet, 0, WireOrder::big);
  for (const std::uint8_t byte : frame.data()) packet += static_cast<char>(byte);
  return packet;
}

}  // namespace sumplog
