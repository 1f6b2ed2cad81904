#include "core/vehicle/hostile/intruder.h"

#include <algorithm>
#include <array>
#include <chrono>

#include "core/isotp/pci.h"
#include "core/vehicle/j1939_groups.h"

namespace sumplog::hostile {
namespace {

using namespace std::chrono_literals;

// What follows is invented, but for the identifiers and the bytes that make a frame what it is.
// Chance is asked once in a statement: the order of arguments is the compiler's own, and a seed must be the same job.
constexpr Duration kFullLoad = 250us;  // between two frames that fill a bus of 500 kbit/s
constexpr std::uint64_t kMostFlood = 1'200;
constexpr std::uint64_t kMostGiants = 20;
constexpr std::uint64_t kMostStrays = 40;
constexpr std::uint64_t kMostOdd = 60;
constexpr std::uint64_t kMostTransfers = 700;         // above Transport::kMaxReceivers
constexpr std::uint32_t kFollowed = 65'535;           // the longest message that our receiver takes
constexpr std::uint8_t kNoAnswer = 0x80;              // service ids from here on answer nothing that we ask
constexpr std::uint32_t kMixedResponse = 0x18CEF100;  // ISO 15765-2 mixed addressing, to tester F1
constexpr std::uint8_t kManagement = 0xEC;            // SAE J1939-21 TP.CM
constexpr std::uint8_t kData = 0xEB;                  // SAE J1939-21 TP.DT
constexpr std::uint8_t kBroadcast = 0x20;             // SAE J1939-21 BAM
constexpr std::uint8_t kRequestToSend = 0x10;         // SAE J1939-21 RTS

CanId group_id(std::uint8_t format, std::uint8_t destination, std::uint8_t source) {
  return extended_id(0x18000000U | static_cast<std::uint32_t>(format) << 16 |
                     static_cast<std::uint32_t>(destination) << 8 | source);
}

std::vector<std::uint8_t> giant(std::uint32_t length, std::uint8_t service) {
  return {kPciFirst,
          0,
          static_cast<std::uint8_t>(length >> 24),
          static_cast<std::uint8_t>(length >> 16),
          static_cast<std::uint8_t>(length >> 8),
          static_cast<std::uint8_t>(length),
          service,
          0x0C};
}

}  // namespace

Intruder::Intruder(const Plan& plan)
    : bus_(plan.scenario.bus),
      lying_(plan.lying),
      extended_(plan.scenario.extended_ids),
      j1939_(plan.scenario.j1939.has_value()),
      random_(Random::at(plan.seed, 1)) {
  for (const UnitPlan& unit : plan.scenario.units) {
    units_.push_back(unit.address.response);
    requests_.push_back(unit.address.request);
  }
}

void Intruder::say(TimePoint at, CanId id, Bytes bytes) {
  bytes.resize(std::min(bytes.size(), kClassicLength));
  planned_.emplace(at, data_frame(at, bus_, id, bytes));
}

/// A whole message; without waiting for flow control when it has several frames.
void Intruder::say_message(TimePoint at, CanId id, const Bytes& payload) {
  if (payload.size() < kClassicLength) {
    Bytes bytes{static_cast<std::uint8_t>(payload.size())};
    bytes.insert(bytes.end(), payload.begin(), payload.end());
    bytes.resize(kClassicLength, kPaddingByte);
    say(at, id, bytes);
    return;
  }
  auto& busy = busy_until_.try_emplace(id, TimePoint::min()).first->second;
  if (busy > at) return;
  Bytes first{static_cast<std::uint8_t>(kPciFirst | payload.size() >> 8),
              static_cast<std::uint8_t>(payload.size())};
  std::size_t sent = kClassicLength - first.size();
  first.insert(first.end(), payload.begin(), payload.begin() + static_cast<std::ptrdiff_t>(sent));
  say(at, id, first);
  for (std::uint8_t number = 1; sent < payload.size(); ++number) {
    at += 1ms + within(10ms);
    const std::size_t count = std::min(payload.size() - sent, kClassicLength - 1);
    Bytes next{static_cast<std::uint8_t>(kPciConsecutive | number % kSequenceModulus)};
    next.insert(next.end(), payload.begin() + static_cast<std::ptrdiff_t>(sent),
                payload.begin() + static_cast<std::ptrdiff_t>(sent + count));
    next.resize(kClassicLength, kPaddingByte);
    say(at, id, next);
    sent += count;
  }
  busy = at + 2 * kLeastBetweenMessages;
}

CanId Intruder::real_unit() {
  return units_.empty() ? ghost() : units_[random_.below(units_.size())];
}
CanId Intruder::ghost() {
  if (lying_ && !units_.empty() && random_.below(3) == 0) return units_[random_.below(units_.size())];
  const auto which = static_cast<std::uint32_t>(random_.below(kGhosts));
  return extended_ ? extended_id(kGhost29 + which) : standard_id(kGhost11 + which);
}
CanId Intruder::stray() const {
  return extended_ ? extended_id(kStray29) : standard_id(kStray11);
}
CanId Intruder::request_to(std::size_t unit) const {
  return requests_.empty() ? functional() : requests_[unit % requests_.size()];
}
CanId Intruder::functional() const {
  return extended_ ? extended_id(0x18DB33F1) : standard_id(0x7DF);  // ISO 15765-4
}
bool Intruder::asks(CanId id) const {
  if (id == functional()) return true;
  return extended_ ? (id.extended && (id.value & 0xFFFF00FFU) == 0x18DA00F1U)
                   : (!id.extended && id.value >= 0x7E0 && id.value <= 0x7E7);  // ISO 15765-4
}

Intruder::Bytes Intruder::noise(std::size_t count) {
  Bytes bytes(count);
  for (auto& byte : bytes) byte = static_cast<std::uint8_t>(any_byte() | kNoAnswer);
  return bytes;
}

Duration Intruder::within(Duration most) {
  return Duration{static_cast<Duration::rep>(random_.below(static_cast<std::uint64_t>(most.count()) + 1))};
}

void Intruder::begin(const Act& act, TimePoint now) {
  random_ = Random(act.seed);
  switch (act.kind) {
    case ActKind::flood: flood(now); break;
    case ActKind::giants: giants(now); break;
    case ActKind::strays: strays(now); break;
    case ActKind::odd_frames: odd_frames(now); break;
    case ActKind::remote_frames: remote_frames(now); break;
    case ActKind::many_transfers: many_transfers(now); break;
    case ActKind::announcements: announcements(now); break;
    case ActKind::ghosts: ghosts_until_ = now + act.lasts; break;
    case ActKind::pending_for_ever: pending_until_ = now + act.lasts; break;
    case ActKind::other_tester:
      tester_until_ = now + act.lasts;
      next_ask_ = now;
      break;
    case ActKind::link_down:
    case ActKind::link_gone:
    case ActKind::bus_off:
    case ActKind::error_passive:
    case ActKind::error_frames:
    case ActKind::clock_step:
    case ActKind::restart: break;
  }
}

void Intruder::flood(TimePoint now) {
  const std::uint64_t count = 1 + random_.below(kMostFlood);
  const std::uint64_t mode = random_.below(4);
  for (std::uint64_t i = 0; i < count; ++i) {
    const TimePoint at = now + kFullLoad * static_cast<Duration::rep>(i);
    if (mode == 0) {
      Bytes bytes = noise(8);
      say(at, standard_id(static_cast<std::uint32_t>(random_.below(0x100))), std::move(bytes));
    } else if (mode == 1) {
      Bytes bytes = noise(8);
      bytes[0] = any_byte();
      say(at, stray(), bytes);
    } else if (mode == 2) {
      Bytes bytes = noise(8);
      bytes[0] = 7;  // a single frame that answers nothing
      say(at, random_.below(2) == 0 ? real_unit() : ghost(), bytes);
    } else {
      Bytes bytes = noise(random_.below(9));
      say(at, extended_id(static_cast<std::uint32_t>(random_.below(0x18000000))), std::move(bytes));
    }
  }
}

void Intruder::giants(TimePoint now) {
  constexpr std::array<std::uint32_t, 5> kLengths{0xFFFFFFFF, 0x80000000, 0x10000000, 0x00100000,
                                                  kFollowed + 1};
  constexpr std::array<std::uint32_t, 4> kFollowedLengths{kFollowed, 4096, 4095, 0};
  const std::uint64_t count = 1 + random_.below(kMostGiants);
  for (std::uint64_t i = 0; i < count; ++i) {
    const TimePoint at = now + within(2s);
    const auto service = static_cast<std::uint8_t>(random_.below(2) == 0 ? 0x41 : 0x62);
    if (random_.below(3) > 0) {
      const std::uint32_t length = kLengths.at(random_.below(kLengths.size()));
      say(at, random_.below(2) == 0 ? real_unit() : ghost(), giant(length, service));
    } else {
      say(at, stray(), giant(kFollowedLengths.at(random_.below(kFollowedLengths.size())), kNoAnswer));
    }
  }
}

void Intruder::strays(TimePoint now) {
  const std::uint64_t count = 1 + random_.below(kMostStrays);
  for (std::uint64_t i = 0; i < count; ++i) {
    Bytes bytes = noise(8);
    bytes[0] = static_cast<std::uint8_t>(kPciConsecutive | (any_byte() & kPciLowMask));
    const CanId id = lying_ ? real_unit() : stray();
    say(now + within(1s), id, bytes);
  }
}

void Intruder::odd_frames(TimePoint now) {
  const std::uint64_t count = 1 + random_.below(kMostOdd);
  for (std::uint64_t i = 0; i < count; ++i) {
    const TimePoint at = now + within(3s);
    const CanId unit = random_.below(2) == 0 ? real_unit() : ghost();
    Bytes bytes = noise(8);
    CanId id = unit;
    switch (random_.below(8)) {
      case 0: bytes[0] = static_cast<std::uint8_t>(0x40 + random_.below(0xC0)); break;  // reserved types
      case 1: bytes[0] = 0; break;                                                // single frame of nothing
      case 2: bytes[0] = static_cast<std::uint8_t>(8 + random_.below(8)); break;  // and of too much
      case 3: bytes.clear(); break;
      case 4:
        bytes = {static_cast<std::uint8_t>(kPciFlowControl | 3U | (any_byte() & kPciLowMask)), 0, 0};
        break;
      case 5:  // STmin 80…F0 and FA…FF are reserved (ISO 15765-2)
        bytes = {kPciFlowControl, any_byte(), static_cast<std::uint8_t>(0x80 + random_.below(0x71))};
        id = random_.below(2) == 0 ? unit : request_to(random_.below(2));
        break;
      case 6:
        bytes = {kPciFirst, static_cast<std::uint8_t>(1 + random_.below(7)), kNoAnswer, 0, 0, 0, 0, 0};
        break;
      default: bytes[0] = static_cast<std::uint8_t>(1 + random_.below(7)); bytes.resize(1 + random_.below(7));
    }
    say(at, id, bytes);
  }
}

void Intruder::remote_frames(TimePoint now) {
  const std::uint64_t count = 1 + random_.below(kMostOdd);
  for (std::uint64_t i = 0; i < count; ++i) {
    const TimePoint at = now + within(3s);
    CanFrame frame =
        data_frame(at, bus_, random_.below(2) == 0 ? real_unit() : request_to(random_.below(2)), {});
    frame.kind = FrameKind::remote;
    frame.length = static_cast<std::uint8_t>(random_.below(9));
    planned_.emplace(at, frame);
  }
}

void Intruder::many_transfers(TimePoint now) {
  const std::uint64_t count = 1 + random_.below(kMostTransfers);
  for (std::uint64_t i = 0; i < count; ++i) {
    const auto unit = static_cast<std::uint32_t>(random_.below(256));
    say(now + kFullLoad * static_cast<Duration::rep>(i), extended_id(kMixedResponse | unit),
        {any_byte(), static_cast<std::uint8_t>(kPciFirst | (any_byte() & kPciLowMask)), any_byte(), kNoAnswer,
         0, 0, 0, 0});
  }
}

void Intruder::announcements(TimePoint now) {
  const std::uint64_t count = 1 + random_.below(kMostGiants);
  for (std::uint64_t i = 0; i < count; ++i) {
    TimePoint at = now + within(3s);
    const auto source = static_cast<std::uint8_t>(0x80 + random_.below(0x40));
    const bool to_all = random_.below(2) == 0;
    const auto destination = static_cast<std::uint8_t>(to_all ? 0xFF : random_.below(0x100));
    const auto size =
        static_cast<std::uint32_t>(random_.below(4) == 0 ? random_.below(0x10000) : 9 + random_.below(200));
    const std::uint32_t packets = (size + 6) / 7;
    say(at, group_id(kManagement, destination, source),
        {to_all ? kBroadcast : kRequestToSend, static_cast<std::uint8_t>(size),
         static_cast<std::uint8_t>(size >> 8), static_cast<std::uint8_t>(packets), 0xFF, 0xEC, 0xFE, 0x00});
    for (std::uint32_t n = 1; n <= std::min(packets, 30U); ++n) {
      at += 2ms + within(60ms);
      if (random_.below(20) == 0) continue;
      Bytes bytes = noise(8);
      bytes[0] = static_cast<std::uint8_t>(n);
      say(at, group_id(kData, destination, source), bytes);
    }
  }
}

/// The other tester: what it asks may do more than read.
void Intruder::ask(TimePoint now) {
  static const std::array<Bytes, 11> kRequests{Bytes{0x01, 0x0C},
                                               Bytes{0x01, 0x05, 0x0C, 0x0D},
                                               Bytes{0x22, 0x1A, 0x05},
                                               Bytes{0x22, 0xF1, 0x90},
                                               Bytes{0x09, 0x02},
                                               Bytes{0x3E, 0x00},
                                               Bytes{0x3E, 0x80},
                                               Bytes{0x10, 0x03},
                                               Bytes{0x01, 0x00},
                                               Bytes{0x19, 0x02, 0xFF},
                                               Bytes{0x2E, 0xF1, 0x90, 1, 2, 3, 4, 5, 6, 7}};
  if (j1939_) {
    const auto source = static_cast<std::uint8_t>(random_.below(2) == 0 ? 0xF9 : 0xFA);
    say(now, group_id(0xEA, 0xFF, source), {0xF8, 0xFE, 0x00});
    return;
  }
  const Bytes& request = kRequests.at(random_.below(kRequests.size()));
  const bool to_all = random_.below(3) == 0 && request.size() < kClassicLength;
  say_message(now, to_all ? functional() : request_to(random_.below(2)), request);
}

void Intruder::answer_as_ghost(const Bytes& request, TimePoint now) {
  const CanId id = ghost();
  const TimePoint at = now + kLeastBetweenMessages + within(50ms);
  const auto service = static_cast<std::uint8_t>(request[0] + 0x40);
  Bytes positive{service};
  switch (random_.below(8)) {
    case 0: say_message(at, id, {0x7F, request[0], 0x78}); break;
    case 1: say_message(at, id, {0x7F, request[0], static_cast<std::uint8_t>(random_.below(0x80))}); break;
    case 2:
      say(at, id, giant(kFollowed + 1 + static_cast<std::uint32_t>(random_.below(0x7FFFFFFF)), service));
      break;
    case 3: {  // as long as the standard allows, or a good deal shorter
      positive.insert(positive.end(), request.begin() + 1, request.end());
      Bytes rest = noise(8 + random_.below(40));
      positive.insert(positive.end(), rest.begin(), rest.end());
      say_message(at, id, positive);
      break;
    }
    case 4:  // the answer to something else
      say_message(at, id, {service, any_byte(), any_byte(), any_byte()});
      break;
    default: {
      positive.insert(
          positive.end(), request.begin() + 1,
          request.begin() + std::min<std::ptrdiff_t>(3, static_cast<std::ptrdiff_t>(request.size())));
      Bytes rest = noise(1 + random_.below(4));
      positive.insert(positive.end(), rest.begin(), rest.end());
      say_message(at, id, positive);
    }
  }
}

void Intruder::on_frame(const CanFrame& frame) {
  if (frame.kind != FrameKind::data || frame.length < 2) return;
  const std::uint8_t type = frame.bytes[0] & kPciTypeMask;
  const std::size_t length = frame.bytes[0] & kPciLowMask;
  if (type == kPciSingle && asks(frame.id) && length > 0 && length < frame.length) {
    const Bytes request(frame.bytes.begin() + 1,
                        frame.bytes.begin() + 1 + static_cast<std::ptrdiff_t>(length));
    if (frame.at < ghosts_until_) answer_as_ghost(request, frame.at);
    if (frame.at < pending_until_) {
      TimePoint at = frame.at + 10ms + within(20ms);
      for (std::uint64_t n = random_.below(6); n > 0; --n, at += within(4s))
        say_message(at, real_unit(), {0x7F, request[0], 0x78});
    }
  }
  // The other tester takes answers of several frames, as it likes: STmin may be reserved.
  if (type == kPciFirst && frame.at < tester_until_) {
    for (std::size_t i = 0; i < units_.size(); ++i)
      if (units_[i] == frame.id && random_.below(2) == 0)
        say(frame.at + 1ms, requests_[i],
            {kPciFlowControl, static_cast<std::uint8_t>(random_.below(3)), any_byte()});
  }
}

void Intruder::on_deadline(TimePoint now) {
  while (next_ask_ && *next_ask_ <= now) {
    ask(*next_ask_);
    *next_ask_ += 20ms + within(1s);
    if (*next_ask_ > tester_until_) next_ask_.reset();
  }
  while (!planned_.empty() && planned_.begin()->first <= now) {
    outbox_.push_back(planned_.begin()->second);
    planned_.erase(planned_.begin());
  }
}

std::optional<TimePoint> Intruder::deadline() const {
  std::optional<TimePoint> next = next_ask_;
  if (!planned_.empty() && (!next || planned_.begin()->first < *next)) next = planned_.begin()->first;
  return next;
}

}  // namespace sumplog::hostile
