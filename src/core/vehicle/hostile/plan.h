#pragma once
#include <chrono>
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "core/item/time.h"
#include "core/vehicle/scenario.h"

namespace sumplog::hostile {

/// How often what goes wrong with single frames: in frames out of a million.
struct FrameFaults {
  // From the bus to our adapter.
  std::uint32_t lost = 0;       ///< nobody ever knows
  std::uint32_t overrun = 0;    ///< lost, and the kernel counts it (SO_RXQ_OVFL)
  std::uint32_t doubled = 0;    ///< heard again, at once or a little later
  std::uint32_t late = 0;       ///< overtaken by what came after it
  std::uint32_t stall = 0;      ///< it and all behind it wait, in order
  std::uint32_t cut = 0;        ///< fewer bytes than were sent
  std::uint32_t remote = 0;     ///< heard as a remote frame
  std::uint32_t misplaced = 0;  ///< a single frame of a unit under another identifier
  std::uint32_t early = 0;      ///< a time stamp before that of the frame before it
  std::uint32_t corrupt = 0;    ///< other bytes; in plans that are `lying` alone
  // From us to the vehicle.
  std::uint32_t not_sent = 0;  ///< the socket refuses it, as ENOBUFS does
  std::uint32_t vanished = 0;  ///< neither sent nor refused
  std::uint32_t held = 0;      ///< the controller keeps it for a while, then sends it
  std::uint32_t unheard = 0;   ///< on the bus, and the units miss it
};

enum class ActKind : std::uint8_t {
  link_down,         ///< the interface, for `lasts`
  link_gone,         ///< the adapter is pulled out, for `lasts`
  bus_off,           ///< and started again after `lasts`
  error_passive,     ///< the link says so
  error_frames,      ///< of several classes, as the kernel makes them
  clock_step,        ///< the wall clock is set
  restart,           ///< the program is stopped and goes on with its job file
  flood,             ///< a node that babbles at full load, on identifiers of every kind
  giants,            ///< first frames that announce up to 4 GB
  strays,            ///< consecutive frames without a first
  odd_frames,        ///< reserved types, flow states and STmin, empty and overlong frames
  remote_frames,     ///< remote frames of diagnostic identifiers
  ghosts,            ///< units that are not there answer, for `lasts`
  pending_for_ever,  ///< 0x78 and nothing else, for `lasts`
  other_tester,      ///< somebody else asks, for `lasts`
  many_transfers,    ///< more first frames at once than anybody can follow
  announcements,     ///< SAE J1939 announcements whose packets come, or do not
};
struct Act {
  Duration at{};
  ActKind kind = ActKind::link_down;
  Duration lasts{};
  std::uint64_t seed = 0;
};

/// One hostile job: the vehicle, what happens to it, and what the bus does to us. Everything follows from the seed.
struct Plan {
  std::uint64_t seed = 0;
  /// Bytes are changed on the way, or other nodes speak as the vehicle's units in several frames. A real bus
  /// shows neither (the check sum of CAN; one sender for an identifier), so the rules on truth do not hold here.
  bool lying = false;
  Scenario scenario;
  FrameFaults faults;
  Duration calm_from{};   ///< nothing goes wrong from here on; scenario.lasts: there is no calm
  std::vector<Act> acts;  ///< by time
};

/// in   seed  any; a multiple of kWholeServiceEvery gives a whole service, every other 3…10 minutes
[[nodiscard]] Plan make_plan(std::uint64_t seed);
inline constexpr std::uint64_t kWholeServiceEvery = 50;

/// One line for a person: what this seed is.
[[nodiscard]] std::string text_of(const Plan& plan);
[[nodiscard]] std::string_view text_of(ActKind kind);

// Identifiers of nodes that are not in the vehicle. src  within ISO 15765-4: 7EA…7EF, 18DAF1A0…
inline constexpr std::uint32_t kGhost11 = 0x7EA;       ///< first of kGhosts
inline constexpr std::uint32_t kGhost29 = 0x18DAF1A0;  ///< first of kGhosts
inline constexpr std::uint32_t kGhosts = 4;
inline constexpr std::uint32_t kStray11 = 0x7EF;       ///< consecutive frames alone
inline constexpr std::uint32_t kStray29 = 0x18DAF1B0;  ///< the same

/// A frame of a message of several frames is overtaken by at most this: less than what lies between two
/// messages of one unit, so that no frame slips into another message, which no receiver could see.
inline constexpr Duration kMostLateInMessage = std::chrono::milliseconds{5};
/// Units, and nodes that are none, leave at least this between two messages.
inline constexpr Duration kLeastBetweenMessages = std::chrono::milliseconds{8};
/// Every other frame may be overtaken by this much, and be kept back by a stall.
inline constexpr Duration kMostLate = std::chrono::milliseconds{1500};
inline constexpr Duration kMostStall = std::chrono::milliseconds{800};
/// A time stamp lies at most this before the moment.
inline constexpr Duration kMostEarly = std::chrono::milliseconds{20};

}  // namespace sumplog::hostile
