#include "core/guard/guard.h"

#include <algorithm>

#include "core/isotp/pci.h"

namespace sumplog {
namespace {

constexpr std::size_t kSingleFrameRoom = 7;  // ISO 15765-2: one byte is the length
constexpr std::size_t kGroupLength = 3;      // SAE J1939-21: a request carries the PGN alone
// How long a built frame is known as ours on a bus that lives. Not the 100 ms after which it counts as not sent: a controller
// without acknowledge (ignition off) keeps it, for minutes, and sends it when the bus comes back. Ours, no source.
constexpr Duration kEchoKept = std::chrono::seconds{5};
constexpr std::size_t kMostEchoes = 64;  // ours: far above one request a unit

constexpr std::uint8_t kContinue = kPciFlowControl | kFlowContinue;
constexpr std::uint8_t kOverflow = kPciFlowControl | kFlowOverflow;
// STmin: 00…7F milliseconds, F1…F9 hundreds of microseconds; the rest is reserved
constexpr bool known_separation(std::uint8_t st_min) {
  return st_min <= 0x7F || (st_min >= 0xF1 && st_min <= 0xF9);
}

// SAE J1939-81 NAME, from its high bits (Linux linux/can/j1939.h): no arbitrary address, industry group 0,
// vehicle system 0, function 129 (off-board diagnostic service tool, from memory), instances 0, no
// manufacturer code assigned.
constexpr std::uint64_t kName = std::uint64_t{129} << 40 | std::uint64_t{0x7FF} << 21;
constexpr std::uint32_t kIdentityMask = 0x1FFFFF;

constexpr std::uint32_t kAnyFunctional29 = 0x18DB00F1;  // ISO 15765-2 normal fixed, functional, tester F1
constexpr std::uint32_t kAnyFunctionalMixed29 = 0x18CD00F1;  // ISO 15765-2 mixed, functional, tester F1
constexpr std::uint32_t kAllButTarget = 0xFFFF00FF;
constexpr std::uint8_t kSecondTool = 0xFA;  // SAE J1939: off-board diagnostic service tool 2

bool same_on_the_wire(const CanFrame& a, const CanFrame& b) {
  return a.bus == b.bus && a.id == b.id && a.kind == b.kind && a.fd == b.fd &&
         std::equal(a.data().begin(), a.data().end(), b.data().begin(), b.data().end());
}

// The groups by which a J1939 tool is known: request, TP.CM, TP.DT, address claimed. (18DAF1F9 is a unit F9
// that answers a tester of ISO 15765: not meant.)
bool from_a_j1939_tool(CanId id, std::uint8_t address) {
  if (!id.extended || static_cast<std::uint8_t>(id.value) != address) return false;
  const auto format = static_cast<std::uint8_t>(id.value >> 16);
  return format == 0xEA || format == 0xEB || format == 0xEC || format == 0xEE;
}

bool tester_identifier(CanId id) {
  switch (sending_identifier(id)) {
    case SendingIdentifier::functional:
    case SendingIdentifier::physical:
    case SendingIdentifier::mixed: return true;
    case SendingIdentifier::group_request:
    case SendingIdentifier::group_transport:
    case SendingIdentifier::address_claim:
    case SendingIdentifier::none: break;
  }
  if (!id.extended) return false;
  const std::uint32_t rest = id.value & kAllButTarget;
  return rest == kAnyFunctional29 || rest == kAnyFunctionalMixed29 ||
         from_a_j1939_tool(id, kOurJ1939Address) || from_a_j1939_tool(id, kSecondTool);
}

}  // namespace

Guard::Guard(AddressBook book) : book_(std::move(book)) {}

bool Guard::group_listed(std::uint32_t pgn) {
  return group_on_list(pgn);
}

bool Guard::named_for_requests(const Endpoint& to) const {
  if (!may_be_named(to.id)) return false;
  const auto& named = book_.named();
  // One decoder's request identifier may be another's voice of a unit: then it is not ours to use.
  if (std::any_of(named.begin(), named.end(),
                  [&](const UnitAddress& unit) { return unit.response == to.id; }))
    return false;
  return std::any_of(named.begin(), named.end(), [&](const UnitAddress& unit) {
    return unit.request == to.id && unit.request_address == to.address &&
           to.address.has_value() == (unit.mode != AddressingMode::normal);
  });
}

std::optional<GuardRefusal> Guard::refuse_identifier(const Endpoint& to) const {
  switch (sending_identifier(to.id)) {
    case SendingIdentifier::functional:
    case SendingIdentifier::physical:
      if (to.address) return GuardRefusal::identifier_not_listed;
      return std::nullopt;
    case SendingIdentifier::mixed:
      if (!to.address) return GuardRefusal::identifier_not_listed;
      return std::nullopt;
    case SendingIdentifier::group_request:
    case SendingIdentifier::group_transport:
      if (to.address) return GuardRefusal::identifier_not_listed;
      if (foreign_tool_.contains(to.bus)) return GuardRefusal::identifier_in_use;
      return std::nullopt;
    case SendingIdentifier::address_claim: return GuardRefusal::identifier_not_listed;
    case SendingIdentifier::none: break;
  }
  if (!named_for_requests(to)) return GuardRefusal::identifier_not_listed;
  if (foreign_.contains({to.bus, to.id})) return GuardRefusal::identifier_in_use;
  return std::nullopt;
}

GuardedFrame Guard::finish(Echo echo) {
  if (echoes_.size() >= kMostEchoes) echoes_.erase(echoes_.begin());
  echoes_.push_back(echo);
  return GuardedFrame{echo.frame};
}

Result<GuardedFrame, GuardRefusal> Guard::build(const Request& request, TimePoint now) {
  const auto& to = request.to;
  if (const auto refusal = refuse_identifier(to)) return tl::unexpected(*refusal);
  const auto identifier = sending_identifier(to.id);
  if (identifier == SendingIdentifier::group_transport)
    return tl::unexpected(GuardRefusal::identifier_not_listed);

  Echo echo;
  echo.to = to;
  echo.frame.at = now;
  echo.frame.bus = to.bus;
  echo.frame.id = to.id;
  if (identifier == SendingIdentifier::group_request) {
    if (request.payload.size() != kGroupLength) return tl::unexpected(GuardRefusal::length_wrong);
    echo.group =
        static_cast<std::uint32_t>(request.payload[0] | request.payload[1] << 8 | request.payload[2] << 16);
    if (!group_listed(echo.group)) return tl::unexpected(GuardRefusal::group_not_listed);
    echo.frame.set_data(request.payload);
    return finish(echo);
  }

  const std::size_t room = to.address ? kSingleFrameRoom - 1 : kSingleFrameRoom;
  if (const auto refusal = refuse_request(request.payload, room)) return tl::unexpected(*refusal);
  echo.service = request.payload[0];
  auto& bytes = echo.frame.bytes;
  echo.frame.length = kClassicLength;
  std::fill_n(bytes.begin(), kClassicLength, kPaddingByte);
  std::size_t at = 0;
  if (to.address) bytes[at++] = *to.address;
  bytes[at++] = static_cast<std::uint8_t>(request.payload.size());  // ISO 15765-2 single frame: 0L
  std::copy(request.payload.begin(), request.payload.end(), bytes.begin() + static_cast<std::ptrdiff_t>(at));
  return finish(echo);
}

Result<GuardedFrame, GuardRefusal> Guard::build_address_claim(BusName bus, std::uint32_t identity,
                                                              TimePoint now) {
  if (foreign_tool_.contains(bus)) return tl::unexpected(GuardRefusal::identifier_in_use);
  Echo echo;
  echo.frame.at = now;
  echo.frame.bus = bus;
  echo.frame.id = extended_id(kAddressClaimId);
  echo.frame.length = kClassicLength;
  const std::uint64_t name = kName | (identity & kIdentityMask);
  for (std::size_t i = 0; i < kClassicLength; ++i)
    echo.frame.bytes[i] = static_cast<std::uint8_t>(name >> 8 * i);
  return finish(echo);
}

Result<GuardedFrame, GuardRefusal> Guard::build_flow_control(const CanFrame& reply, TimePoint now) {
  const auto proposed = reply.data();
  Endpoint to{reply.bus, reply.id, std::nullopt};
  const auto identifier = sending_identifier(reply.id);
  if (identifier == SendingIdentifier::functional || identifier == SendingIdentifier::group_request)
    return tl::unexpected(GuardRefusal::identifier_not_listed);

  Echo echo;
  echo.frame.at = now;
  echo.frame.bus = reply.bus;
  echo.frame.id = reply.id;
  echo.frame.length = kClassicLength;
  if (identifier == SendingIdentifier::group_transport) {
    if (const auto refusal = refuse_identifier(to)) return tl::unexpected(*refusal);
    const auto destination = static_cast<std::uint8_t>(reply.id.value >> 8);
    const auto control = groups_.control(reply.bus, destination, proposed, now);
    if (!control) return tl::unexpected(control.error());
    echo.frame.set_data(*control);
    return finish(echo);
  }

  // With an address byte in front, the same identifier may lead to several units.
  std::size_t offset = 0;
  if (identifier == SendingIdentifier::mixed || identifier == SendingIdentifier::none) {
    Endpoint addressed = to;
    if (!proposed.empty()) addressed.address = proposed[0];
    if (identifier == SendingIdentifier::mixed || named_for_requests(addressed)) {
      to = addressed;
      offset = 1;
    }
  }
  if (const auto refusal = refuse_identifier(to)) return tl::unexpected(*refusal);
  if (reply.kind != FrameKind::data || proposed.size() < offset + kFlowControlBytes)
    return tl::unexpected(GuardRefusal::flow_control_not_listed);
  const std::uint8_t status = proposed[offset];
  if (status != kContinue && status != kOverflow)
    return tl::unexpected(GuardRefusal::flow_control_not_listed);
  if (status == kContinue && !known_separation(proposed[offset + 2]))
    return tl::unexpected(GuardRefusal::flow_control_not_listed);
  const auto unit = answers_.waiting_at(book_, to, now);
  if (!unit) return tl::unexpected(GuardRefusal::no_own_request);

  auto& bytes = echo.frame.bytes;
  std::fill_n(bytes.begin(), kClassicLength, kPaddingByte);
  if (to.address) bytes[0] = *to.address;
  bytes[offset] = status;
  bytes[offset + 1] = 0;
  bytes[offset + 2] = 0;
  if (status == kContinue) {
    bytes[offset + 1] = proposed[offset + 1];
    bytes[offset + 2] = proposed[offset + 2];
    answers_.on_go_on(*unit, proposed[offset + 1]);
  } else {
    answers_.on_overflow(*unit);
  }
  return finish(echo);
}

void Guard::note_life(const CanFrame& frame) {
  Life& life = lives_.try_emplace(frame.bus, Life{frame.at, frame.at}).first->second;
  if (frame.at - life.last > kEchoKept) life.since = frame.at;
  life.last = frame.at;
}

bool Guard::take_echo(const CanFrame& frame) {
  const TimePoint since = lives_[frame.bus].since;
  std::erase_if(echoes_, [&](const Echo& one) {
    return one.frame.bus == frame.bus && frame.at - std::max(one.frame.at, since) > kEchoKept;
  });
  const auto found = std::find_if(echoes_.begin(), echoes_.end(),
                                  [&](const Echo& one) { return same_on_the_wire(one.frame, frame); });
  if (found == echoes_.end()) return false;
  const Echo echo = *found;
  echoes_.erase(found);
  if (echo.service != 0) answers_.on_own_request(echo.to, echo.service, frame.at);
  if (echo.group != 0)
    groups_.on_own_request(frame.bus, static_cast<std::uint8_t>(frame.id.value >> 8), echo.group, frame.at);
  return true;
}

void Guard::on_send_failed(const GuardedFrame& frame) {
  const auto found = std::find_if(echoes_.begin(), echoes_.end(),
                                  [&](const Echo& one) { return one.frame == frame.frame(); });
  if (found != echoes_.end()) echoes_.erase(found);
}

void Guard::note_foreign(const CanFrame& frame) {
  const auto& named = book_.named();
  if (may_be_named(frame.id) && std::any_of(named.begin(), named.end(), [&](const UnitAddress& unit) {
        return unit.request == frame.id;
      }))
    foreign_.insert({frame.bus, frame.id});
  if (frame.kind != FrameKind::data) return;
  if (from_a_j1939_tool(frame.id, kOurJ1939Address)) foreign_tool_.insert(frame.bus);
  if (tester_identifier(frame.id)) other_tester_ = OtherTester{frame.at, frame.bus, frame.id};
}

bool Guard::on_frame(const CanFrame& frame) {
  if (frame.kind == FrameKind::error) return false;
  note_life(frame);
  if (take_echo(frame)) return true;
  note_foreign(frame);
  if (frame.kind != FrameKind::data) return false;
  groups_.on_frame(frame);
  const auto addressing = book_.classify(frame.id);
  if (!addressing || addressing->role != Role::response) return false;
  Endpoint unit{frame.bus, frame.id, std::nullopt};
  auto body = frame.data();
  if (addressing->mode != AddressingMode::normal) {
    if (body.empty()) return false;
    unit.address = body[0];
    body = body.subspan(1);
  }
  answers_.on_unit_frame(book_, unit, body, frame.at);
  return false;
}

}  // namespace sumplog
