#include <algorithm>
#include <array>
#include <chrono>
#include <deque>
#include <map>
#include <span>

#include "core/item/json_line.h"
#include "core/vehicle/hostile/ear.h"
#include "core/vehicle/hostile/rules.h"

namespace sumplog::hostile {
namespace {

using namespace std::chrono_literals;

constexpr char kList[] = "no frame outside the guard's list";
constexpr char kManners[] = "nothing is sent when it may disturb";

// The list, written down once more. src  SAE J1979 (01…0A), ISO 14229-1 (19, 22), ISO 14230-3 (21)
bool reads_only(std::span<const std::uint8_t> request) {
  const std::size_t length = request.size();
  if (length == 0) return false;
  switch (request[0]) {
    case 0x01: return length >= 2 && length <= 7;
    case 0x02: return length == 3 || length == 5 || length == 7;
    case 0x03:
    case 0x07:
    case 0x0A: return length == 1;
    case 0x06:
    case 0x09:
    case 0x21: return length == 2;
    case 0x22: return length == 3;
    case 0x19:
      if (length < 2) return false;
      if (request[1] == 0x01 || request[1] == 0x02) return length == 3;
      if (request[1] == 0x04 || request[1] == 0x06) return length == 6;
      return request[1] == 0x0A && length == 2;
    default: return false;
  }
}

// SAE J1939 groups that only tell something: DM3 (FECC) and DM11 (FED3) would clear codes.
constexpr std::array<std::uint32_t, 25> kGroups{
    0xEE00, 0xFEEC, 0xFEEB, 0xFEDA, 0xFDC5, 0xD300, 0xFECA, 0xFECB, 0xFECD, 0xFECE, 0xFECF, 0xFED4, 0xFDB5,
    0xFDB6, 0xFD80, 0xC200, 0xFEF8, 0xF005, 0xF004, 0xFEEE, 0xFEF1, 0xFEF5, 0xFEF7, 0xFEE5, 0xFEE0};

constexpr std::uint8_t kPadding = 0xCC;     // ISO 15765-2
constexpr Duration kAnswerOpen = 1s;        // docs/decisions.md
constexpr Duration kPendingOpen = 5050ms;   // ISO 14229-2, P2* and the way
constexpr Duration kFlowControlDue = 1s;    // ISO 15765-2, N_Bs
constexpr Duration kEchoInTime = 100ms;     // as the asker: a frame that is not back by then was not sent
constexpr Duration kEchoKnown = 5s;         // the guard's own time for its frames
constexpr Duration kOtherTesterQuiet = 5s;  // ISO 14229-2, S3
constexpr Duration kLoadOver = 10s;
constexpr Duration::rep kMostLoadPercent = 2;

constexpr std::uint8_t kToolAddress = 0xF9;    // SAE J1939, off-board service tool 1
constexpr std::uint8_t kSecondAddress = 0xFA;  // and 2

/// Request, TP.CM, TP.DT or address claim of a J1939 tool.
bool from_a_tool(CanId id) {
  if (!id.extended) return false;
  const std::uint32_t source = id.value & 0xFFU;
  const std::uint32_t format = id.value >> 16 & 0xFFU;
  return (source == kToolAddress || source == kSecondAddress) &&
         (format == 0xEA || format == 0xEB || format == 0xEC || format == 0xEE);
}
bool on_a_tester_identifier(CanId id) {
  const Way way = way_of(id);
  return way == Way::to_all || way == Way::to_unit || from_a_tool(id);
}

std::string text_of(const CanFrame& frame) {
  return unit_text(frame.id, std::nullopt) + "#" + hex_text(frame.bytes.data(), frame.length);
}

/// What we could know when we sent: a fold over the items, in the order in which they were written.
class Knowledge {
 public:
  void on_item(const Item& item, TimePoint at) {
    if (std::holds_alternative<Resume>(item)) {  // a program that starts knows of nothing before
      requests_.clear();
      first_frames_.clear();
      ours_.clear();
      lives_.clear();
      other_at_ = TimePoint::min();
      link_up = true;
    }
    if (const auto* link = std::get_if<LinkEvent>(&item)) {
      if (link->state != LinkState::error_passive) link_up = link->state == LinkState::up;
    }
    if (const auto* frame = std::get_if<CanFrame>(&item)) on_frame(*frame, at);
  }

  void on_sent(const CanFrame& frame) { ours_.push_back(frame); }

  [[nodiscard]] bool other_tester_near(TimePoint at) const {
    return other_at_ != TimePoint::min() && at - other_at_ < kOtherTesterQuiet;
  }

  /// Takes one first frame that waits for flow control on `request`.
  [[nodiscard]] bool take_first_frame(CanId request, TimePoint at) {
    for (auto it = first_frames_.begin(); it != first_frames_.end(); ++it) {
      if (!may_answer(request, it->id) || at - it->at > kFlowControlDue) continue;
      first_frames_.erase(it);
      return true;
    }
    return false;
  }

  bool link_up = true;

 private:
  struct Request {
    CanId id{};
    std::uint8_t service = 0;
    TimePoint until{};
  };
  struct Life {
    TimePoint last{};
    TimePoint since{};  ///< without a silence
  };

  /// An echo gets old on a bus that lives (docs/decisions.md).
  void on_life(const CanFrame& frame) {
    Life& life = lives_.try_emplace(frame.bus, Life{frame.at, frame.at}).first->second;
    if (frame.at - life.last > kEchoKnown) life.since = frame.at;
    life.last = frame.at;
    std::erase_if(ours_, [&](const CanFrame& one) {
      return one.bus == frame.bus && frame.at - std::max(one.at, life.since) > kEchoKnown;
    });
  }

  void on_frame(const CanFrame& frame, TimePoint at) {
    if (frame.kind == FrameKind::error) return;
    on_life(frame);
    if (frame.kind != FrameKind::data) return;
    if (on_a_tester_identifier(frame.id)) {
      on_tester_frame(frame, at);
      return;
    }
    if (way_of(frame.id) == Way::from_unit) on_unit_frame(frame, at);
  }

  void on_tester_frame(const CanFrame& frame, TimePoint at) {
    const auto own = std::find_if(ours_.begin(), ours_.end(), [&](const CanFrame& one) {
      return one.id == frame.id &&
             std::equal(one.data().begin(), one.data().end(), frame.data().begin(), frame.data().end());
    });
    if (own == ours_.end()) {
      other_at_ = frame.at;
      return;
    }
    const bool late = frame.at - own->at > kEchoInTime;
    ours_.erase(own);
    const std::size_t length = frame.bytes[0];
    if (length == 0 || length > 7) return;  // flow control
    // A late echo cannot be told from another tester's frame: the program may hold on to what it asked after it.
    if (!late) std::erase_if(requests_, [&](const Request& one) { return one.id == frame.id; });
    requests_.push_back({frame.id, frame.bytes[1], at + kAnswerOpen});
  }

  void on_unit_frame(const CanFrame& frame, TimePoint at) {
    const std::size_t offset = has_address_byte(frame.id) ? 1 : 0;
    const auto bytes = frame.data().subspan(std::min<std::size_t>(offset, frame.length));
    if (bytes.size() >= 4 && bytes[0] < 8 && bytes[1] == 0x7F && bytes[3] == 0x78)
      for (Request& one : requests_)
        if (one.service == bytes[2] && may_answer(one.id, frame.id))
          one.until = std::max(one.until, at + kPendingOpen);
    if (bytes.size() < 8 || bytes[0] >> 4 != 1) return;
    const std::uint8_t service = bytes[0] == 0x10 && bytes[1] == 0 ? bytes[6] : bytes[2];
    for (const Request& one : requests_)
      if (one.service + 0x40 == service && one.until >= at && may_answer(one.id, frame.id)) {
        first_frames_.push_back(frame);
        first_frames_.back().at = at;
        return;
      }
  }

  std::vector<CanFrame> ours_;
  std::map<BusName, Life> lives_;
  std::vector<Request> requests_;
  std::vector<CanFrame> first_frames_;
  TimePoint other_at_ = TimePoint::min();
};

/// nothing: it is on the list. `request`: whether it is a request, not flow control.
std::optional<std::string> off_the_list(const CanFrame& frame, Knowledge& knowledge, bool& request) {
  request = true;
  if (frame.kind != FrameKind::data || frame.fd) return "not a classic data frame";
  if (from_a_tool(frame.id)) {
    if ((frame.id.value & 0xFFU) != kToolAddress) return "not from our own address";
    if ((frame.id.value >> 16 & 0xFFU) != 0xEA || frame.length != 3) return "not a request for a group";
    std::uint32_t group = 0;
    for (std::size_t i = frame.length; i-- > 0;) group = group << 8 | frame.bytes.at(i);
    if (std::find(kGroups.begin(), kGroups.end(), group) == kGroups.end())
      return "this group is not only told";
    return std::nullopt;
  }
  const bool listed = !frame.id.extended
                          ? frame.id.value >= 0x7DF && frame.id.value <= 0x7E7
                          : frame.id.value == 0x18DB33F1 || ((frame.id.value & 0xFFFF00FFU) == 0x18DA00F1U &&
                                                             frame.id.value != 0x18DAF1F1U);
  if (!listed) return "not one of the identifiers";
  if (frame.length != 8) return "not eight bytes";
  const std::size_t first = frame.bytes[0];
  const std::size_t used = first < 8 ? first + 1 : 3;
  for (std::size_t i = used; i < frame.length; ++i)
    if (frame.bytes.at(i) != kPadding) return "not padded";
  if (first < 8) {
    if (!reads_only(frame.data().subspan(1, first))) return "not a reading service of that length";
    return std::nullopt;
  }
  request = false;
  const bool goes_on = first == 0x30 && frame.bytes[1] == 0 && frame.bytes[2] == 0;
  const bool too_long = first == 0x32 && frame.bytes[1] == 0 && frame.bytes[2] == 0;
  if (!goes_on && !too_long) return "neither a single frame nor our flow control";
  if (way_of(frame.id) != Way::to_unit) return "flow control to everybody";
  if (!knowledge.take_first_frame(frame.id, frame.at))
    return "flow control, and no answer of several frames to us waits for it";
  return std::nullopt;
}

}  // namespace

std::optional<Finding> judge_sent(const Plan& plan, const Trace& trace) {
  const std::vector<TimePoint> times = core_times(trace.items);
  Knowledge knowledge;
  std::size_t item = 0;
  std::deque<std::pair<TimePoint, Duration>> load;
  Duration used{};
  for (const Sent& sent : trace.sent) {
    const CanFrame& frame = sent.frame;
    for (; item < sent.after; ++item) knowledge.on_item(trace.items[item], times[item]);
    bool request = false;
    if (const auto why = off_the_list(frame, knowledge, request))
      return Finding{kList, frame.at, *why + ": " + text_of(frame)};
    if (!knowledge.link_up) return Finding{kManners, frame.at, "the link is away: " + text_of(frame)};
    if (request && knowledge.other_tester_near(frame.at))
      return Finding{kManners, frame.at,
                     "another tester was heard less than five seconds ago: " + text_of(frame)};
    knowledge.on_sent(frame);
    load.emplace_back(frame.at, wire_time(frame, plan.scenario.rates));
    used += load.back().second;
    for (; frame.at - load.front().first > kLoadOver; load.pop_front()) used -= load.front().second;
    if (used * 100 > kLoadOver * kMostLoadPercent)
      return Finding{kManners, frame.at, "more than 2 % of the bus in ten seconds"};
  }
  return std::nullopt;
}

}  // namespace sumplog::hostile
