#pragma once
#include <cstdint>
#include <map>
#include <optional>
#include <string_view>
#include <vector>

#include "core/guard/request.h"
#include "core/isotp/addressing.h"
#include "core/item/frame.h"
#include "core/item/result.h"

namespace sumplog {

/// A frame that the guard has built. Nothing else can make one, and the CAN socket sends nothing else:
/// this type is the only way out to the vehicle.
class GuardedFrame {
 public:
  [[nodiscard]] const CanFrame& frame() const { return frame_; }

 private:
  friend class Guard;
  explicit GuardedFrame(const CanFrame& frame) : frame_(frame) {}
  CanFrame frame_;
};

enum class GuardRefusal : std::uint8_t {
  service_not_listed = 1,   ///< not one of 01 02 03 06 07 09 0A 19 21 22
  identifier_not_listed,    ///< not a diagnostic request identifier
  identifier_in_use,        ///< named by a decoder, but somebody else was heard using it
  length_wrong,             ///< longer than a single frame, or not the length that the service has
  sub_function_not_listed,  ///< service 19 with anything but the reading sub-functions
  no_own_request,           ///< flow control for a unit that is not answering a request of ours
  group_not_listed,         ///< J1939 request for a PGN outside the list
};
[[nodiscard]] std::string_view text_of(GuardRefusal refusal);

/// Read-only by construction: checks a request value against one fixed list and builds the frame itself.
/// Only single frames leave, plus flow control to a unit that is answering our own request, and (SAE J1939) a
/// request for a listed PGN, the address claim, CTS, end-of-message acknowledge and abort. Decoder files
/// cannot widen the list: they can only name an identifier within 600–7FF, and that only while nobody else is
/// heard using it. src  design: docs/decisions.md "guard"; ISO 15765-2 padding CC; ISO 15765-4 identifiers
class Guard {
 public:
  explicit Guard(AddressBook book);

  [[nodiscard]] Result<GuardedFrame, GuardRefusal> build(const Request& request, TimePoint now);
  /// `reply` is what a receiver proposed; the guard rebuilds it from its meaning, it never passes bytes
  /// through.
  [[nodiscard]] Result<GuardedFrame, GuardRefusal> build_flow_control(const CanFrame& reply, TimePoint now);
  /// Every frame heard: who uses which identifier, and which of our requests are being answered.
  void on_frame(const CanFrame& frame);

  /// The fixed list, for documents and tests.
  [[nodiscard]] static bool service_listed(std::uint8_t service);
  [[nodiscard]] static bool group_listed(std::uint32_t pgn);

 private:
  AddressBook book_;
  std::map<Endpoint, TimePoint> asked_;    ///< request endpoint, when we last asked it
  std::map<Endpoint, std::uint32_t> own_;  ///< own requests whose echo is still to come
  std::vector<CanId> foreign_;             ///< decoder-named identifiers that somebody else used
};

}  // namespace sumplog
