#pragma once
#include <cstdint>
#include <map>
#include <optional>
#include <set>
#include <string_view>
#include <utility>
#include <vector>

#include "core/guard/answer_watch.h"
#include "core/guard/group_watch.h"
#include "core/guard/read_list.h"
#include "core/guard/request.h"
#include "core/isotp/addressing.h"
#include "core/item/frame.h"
#include "core/item/item.h"
#include "core/item/result.h"

namespace sumplog {

/// A frame that the guard has built. Nothing else can make one, and the CAN socket sends nothing else:
/// this type is the only way out to the vehicle.
class GuardedFrame final {
 public:
  [[nodiscard]] const CanFrame& frame() const { return frame_; }

 private:
  friend class Guard;
  explicit GuardedFrame(const CanFrame& frame) : frame_(frame) {}
  CanFrame frame_;
};

/// Read-only by construction: checks a request value against one fixed list (read_list.cpp) and builds the
/// frame itself. Only single frames leave, plus flow control to a unit that is answering our own request, and
/// (SAE J1939) a request for a listed PGN, the address claim, CTS, end-of-message acknowledge and abort.
/// Decoder files cannot widen the list: they can only name an identifier within 600–7FF, and that only while
/// nobody else is heard using it.
/// src  docs/decisions.md "The guard builds every frame"; ISO 15765-2 (padding CC); ISO 15765-4 (identifiers)
class Guard {
 public:
  explicit Guard(AddressBook book);

  /// Builds the one frame of a request. On a J1939 identifier (18EAxxF9) the payload is the PGN, three bytes,
  /// low first.
  /// err  identifier_not_listed · identifier_in_use · service_not_listed · group_not_listed ·
  ///      sub_function_not_listed · length_wrong (checked in this order)
  [[nodiscard]] Result<GuardedFrame, GuardRefusal> build(const Request& request, TimePoint now);
  /// SAE J1939-81 address claim of F9.
  /// in   identity  21 bits, our own choice; the rest of the NAME is fixed
  /// err  identifier_in_use: somebody else has F9, and we never fight for it
  [[nodiscard]] Result<GuardedFrame, GuardRefusal> build_address_claim(BusName bus, std::uint32_t identity,
                                                                       TimePoint now);
  /// `reply` is what a receiver proposed; the guard rebuilds it from its meaning, it never passes bytes
  /// through.
  /// err  identifier_not_listed · identifier_in_use · flow_control_not_listed · no_own_request
  [[nodiscard]] Result<GuardedFrame, GuardRefusal> build_flow_control(const CanFrame& reply, TimePoint now);
  /// Every frame heard: who uses which identifier, and which of our requests are being answered.
  /// A frame equal to one that we built and whose echo is still due is ours; every other one is foreign.
  /// out  true: it is ours
  bool on_frame(const CanFrame& frame);
  /// The socket refused it: its echo will never come.
  void on_send_failed(const GuardedFrame& frame);

  /// The last frame of somebody else on an identifier that testers use. The shell records it as an item.
  [[nodiscard]] const std::optional<OtherTester>& other_tester_heard() const { return other_tester_; }

  /// The fixed list of groups, for tests.
  [[nodiscard]] static bool group_listed(std::uint32_t pgn);

 private:
  struct Echo {
    CanFrame frame;  ///< `at`: when it was built
    Endpoint to{};
    std::uint8_t service = 0;  ///< 0: not an ISO request
    std::uint32_t group = 0;   ///< 0: not a J1939 request
  };
  [[nodiscard]] std::optional<GuardRefusal> refuse_identifier(const Endpoint& to) const;
  [[nodiscard]] bool named_for_requests(const Endpoint& to) const;
  /// When a bus was last heard, and since when without a silence.
  struct Life {
    TimePoint last{};
    TimePoint since{};
  };
  [[nodiscard]] GuardedFrame finish(Echo echo);
  void note_life(const CanFrame& frame);
  bool take_echo(const CanFrame& frame);
  void note_foreign(const CanFrame& frame);

  AddressBook book_;
  std::vector<Echo> echoes_;  ///< oldest first
  std::map<BusName, Life> lives_;
  AnswerWatch answers_;
  GroupWatch groups_;
  std::set<std::pair<BusName, CanId>>
      foreign_;                     ///< decoder-named request identifiers that somebody else used
  std::set<BusName> foreign_tool_;  ///< buses where somebody else has the J1939 address F9
  std::optional<OtherTester> other_tester_;
};

}  // namespace sumplog
