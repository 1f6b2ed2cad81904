#include "core/item/error_frame.h"

namespace sumplog {
namespace {

// linux/can/error.h: classes in the identifier, states of the controller in the second byte.
constexpr std::uint32_t kControllerClass = 0x04;
constexpr std::uint32_t kProtocolClass = 0x08;
constexpr std::uint32_t kNoAcknowledgeClass = 0x20;
constexpr std::uint32_t kBusOffClass = 0x40;
constexpr std::uint32_t kBusErrorClass = 0x80;
constexpr std::uint32_t kRestartedClass = 0x100;
constexpr std::uint8_t kWarningOrPassive = 0x04 | 0x08 | 0x10 | 0x20;

}  // namespace

std::optional<LinkState> link_state_of(const CanFrame& frame) {
  if (frame.kind != FrameKind::error) return std::nullopt;
  if ((frame.id.value & kRestartedClass) != 0) return LinkState::up;
  if ((frame.id.value & kBusOffClass) != 0) return LinkState::bus_off;
  return std::nullopt;
}

bool tells_trouble(const CanFrame& frame) {
  if (frame.kind != FrameKind::error) return false;
  const std::uint32_t classes = frame.id.value;
  if ((classes & (kProtocolClass | kNoAcknowledgeClass | kBusOffClass | kBusErrorClass)) != 0) return true;
  return (classes & kControllerClass) != 0 && frame.length > 1 && (frame.bytes[1] & kWarningOrPassive) != 0;
}

}  // namespace sumplog
