#include <algorithm>
#include <array>
#include <chrono>
#include <cmath>
#include <map>

#include "core/vehicle/hostile/ear.h"
#include "core/vehicle/hostile/journal_text.h"
#include "core/vehicle/hostile/rules.h"

namespace sumplog::hostile {
namespace {

using namespace std::chrono_literals;
using Bytes = std::vector<std::uint8_t>;

constexpr Duration kRequestOpen = 1s;      // docs/decisions.md "A request is open for a second"
constexpr Duration kPendingOpen = 5050ms;  // ISO 14229-2, P2* and the way
constexpr Duration kTransferOpen = 1s;     // ISO 15765-2, N_Cr
constexpr Duration kForgotten = 20s;       // requests that can have no answer any more

/// What a payload may be read as.
struct Quantity {
  std::string_view signal;
  std::uint16_t id;  ///< PID or DID
  std::size_t bytes;
  double scale;
  double offset;
};
// src  SAE J1979, service 01
constexpr std::array<Quantity, 9> kParameters{{{"engine_load", 0x04, 1, 100.0 / 255, 0},
                                               {"coolant_temperature", 0x05, 1, 1, -40},
                                               {"engine_speed", 0x0C, 2, 0.25, 0},
                                               {"vehicle_speed", 0x0D, 1, 1, 0},
                                               {"intake_air_temperature", 0x0F, 1, 1, -40},
                                               {"throttle_position", 0x11, 1, 100.0 / 255, 0},
                                               {"module_voltage", 0x42, 2, 0.001, 0},
                                               {"ambient_temperature", 0x46, 1, 1, -40},
                                               {"engine_oil_temperature", 0x5C, 1, 1, -40}}};
// src  decoders/demo-9/notes.md, invented
constexpr std::array<Quantity, 2> kIdentifiers{
    {{"fluid_temperature", 0x1A05, 1, 1, -40}, {"selector_position", 0x1A06, 1, 1, 0}}};
// src  SAE J1979: bytes of the parameters that a unit of the simulation, or another tester's answer, may hold beside
constexpr std::array<std::pair<std::uint8_t, std::size_t>, 8> kOtherLengths{
    {{0x01, 4}, {0x1C, 1}, {0x1F, 2}, {0x21, 2}, {0x00, 4}, {0x20, 4}, {0x40, 4}, {0x60, 4}}};

/// SAE J1939-71: parameter group, byte from 0, bytes (little endian), scale, offset.
struct GroupQuantity {
  std::string_view signal;
  std::uint32_t group;
  std::size_t at;
  std::size_t bytes;
  double scale;
  double offset;
};
constexpr std::array<GroupQuantity, 7> kGroups{{{"fluid_temperature", 0xFEF8, 4, 2, 0.03125, -273},
                                                {"engine_speed", 0xF004, 3, 2, 0.125, 0},
                                                {"coolant_temperature", 0xFEEE, 0, 1, 1, -40},
                                                {"vehicle_speed", 0xFEF1, 1, 2, 1.0 / 256, 0},
                                                {"selected_gear", 0xF005, 0, 1, 1, -125},
                                                {"actual_gear_ratio", 0xF005, 1, 2, 0.001, 0},
                                                {"actual_gear", 0xF005, 3, 1, 1, -125}}};

double big_endian(const Bytes& bytes, std::size_t at, std::size_t count) {
  double raw = 0;
  for (std::size_t i = 0; i < count; ++i) raw = raw * 256 + bytes[at + i];
  return raw;
}

/// The value of `signal` in a positive answer, and which PID or DID gives it.
std::optional<std::pair<double, std::uint16_t>> read_answer(std::string_view signal, const Bytes& answer) {
  if (answer.empty()) return std::nullopt;
  if (answer[0] == 0x62 && answer.size() >= 3) {
    const auto id = static_cast<std::uint16_t>(answer[1] << 8 | answer[2]);
    for (const Quantity& one : kIdentifiers)
      if (one.signal == signal && one.id == id && answer.size() == 3 + one.bytes)
        return std::pair{big_endian(answer, 3, one.bytes) * one.scale + one.offset, id};
  }
  if (answer[0] != 0x41) return std::nullopt;
  for (std::size_t at = 1; at < answer.size();) {
    const std::uint8_t pid = answer[at++];
    std::size_t length = 0;
    for (const Quantity& one : kParameters) {
      if (one.id != pid) continue;
      length = one.bytes;
      if (one.signal == signal && at + length <= answer.size())
        return std::pair{big_endian(answer, at, length) * one.scale + one.offset, one.id};
    }
    for (const auto& [other, bytes] : kOtherLengths)
      if (other == pid) length = bytes;
    if (length == 0) return std::nullopt;
    at += length;
  }
  return std::nullopt;
}

std::optional<double> read_group(std::string_view signal, const CanFrame& frame) {
  if (!frame.id.extended || frame.kind != FrameKind::data) return std::nullopt;
  const std::uint32_t group = frame.id.value >> 8 & 0x3FFFFU;
  for (const GroupQuantity& one : kGroups) {
    if (one.signal != signal || one.group != group || frame.length < one.at + one.bytes) continue;
    double raw = 0;
    for (std::size_t i = one.bytes; i-- > 0;) raw = raw * 256 + frame.bytes.at(one.at + i);
    return raw * one.scale + one.offset;
  }
  return std::nullopt;
}

/// Equal within the decimals that the line has.
bool same(double value, std::string_view printed) {
  double number = 0;
  const JournalText line(printed);
  number = line.number("value").value_or(std::nan(""));
  const std::string_view text = line.text("value");
  const std::size_t point = text.find('.');
  double half = 0.5;
  if (point != std::string_view::npos)
    for (std::size_t i = point + 1; i < text.size(); ++i) half /= 10;
  return std::abs(number - value) <= half + 1e-9;
}

struct OpenRequest {
  TimePoint at{};
  TimePoint until{};
  CanId id{};
  Bytes payload;
};

/// Answers and frames that were heard, by time, with what was open when they came.
class Listening {
 public:
  Listening(const Plan& plan, const Trace& trace) {
    const std::vector<TimePoint> times = core_times(trace.items);
    const bool groups = plan.scenario.j1939.has_value();
    for (std::size_t i = 0; i < trace.items.size(); ++i) {
      const auto* frame = std::get_if<CanFrame>(&trace.items[i]);
      if (frame == nullptr) continue;
      if (groups) frames_.emplace(times[i], *frame);
      on_frame(*frame, times[i]);
    }
  }

  struct Answer {
    Heard heard;
    std::vector<OpenRequest> open;  ///< those that it may answer
  };
  [[nodiscard]] auto answers_at(TimePoint at) const { return answers_.equal_range(at); }
  [[nodiscard]] auto frames_at(TimePoint at) const { return frames_.equal_range(at); }

 private:
  void on_frame(const CanFrame& frame, TimePoint at) {
    const Way way = way_of(frame.id);
    if (way == Way::none) return;
    std::erase_if(open_, [at](const OpenRequest& one) { return at - one.until > kForgotten; });
    const auto heard = ear_.on_frame(frame, at);
    if (way == Way::from_unit) {
      const std::size_t offset = has_address_byte(frame.id) ? 1 : 0;
      const bool transfer =
          frame.length > offset && (frame.bytes.at(offset) >> 4 == 1 || frame.bytes.at(offset) >> 4 == 2);
      for (OpenRequest& one : open_) {
        if (one.until < at) continue;
        if (transfer) one.until = std::max(one.until, at + kTransferOpen);
        if (heard && heard->is_pending()) one.until = std::max(one.until, at + kPendingOpen);
      }
    }
    if (!heard) return;
    if (way != Way::from_unit) {
      open_.push_back({at, at + kRequestOpen, frame.id, heard->payload});
      return;
    }
    Answer answer{*heard, {}};
    for (const OpenRequest& one : open_)
      if (one.until >= heard->first_at && may_answer(one.id, frame.id)) answer.open.push_back(one);
    answers_.emplace(at, std::move(answer));
  }

  Ear ear_;
  std::vector<OpenRequest> open_;
  std::multimap<TimePoint, Answer> answers_;
  std::multimap<TimePoint, CanFrame> frames_;
};

bool asks_for(const Bytes& request, std::uint8_t service, std::uint16_t id) {
  if (request.empty() || request[0] != service) return false;
  if (service == 0x01)
    return std::find(request.begin() + 1, request.end(), static_cast<std::uint8_t>(id)) != request.end();
  for (std::size_t at = 1; at + 1 < request.size(); at += 2)
    if ((request[at] << 8 | request[at + 1]) == id) return true;
  return false;
}

/// Those that may have been heard at `at`.
template <class T>
auto in_time(const std::vector<T>& all, TimePoint at) {
  const auto earlier = [](const T& one, TimePoint than) { return one.at < than; };
  return std::pair{std::lower_bound(all.begin(), all.end(), at - kLongestWay, earlier),
                   std::lower_bound(all.begin(), all.end(), at + kMostEarly + Duration{1}, earlier)};
}

/// What was truly on the wire: whole messages by unit, and single frames.
class Truth {
 public:
  explicit Truth(const std::vector<CanFrame>& wire, bool groups) {
    Ear ear(Ear::Trust::several_senders);
    for (const CanFrame& frame : wire) {
      if (groups && frame.kind == FrameKind::data) frames_[frame.id].push_back(frame);
      if (auto heard = ear.on_frame(frame, frame.at); heard && heard->way == Way::from_unit)
        messages_[unit_text(heard->id, heard->address)].push_back(std::move(*heard));
    }
  }
  [[nodiscard]] bool holds(const Heard& heard) const {
    const auto found = messages_.find(unit_text(heard.id, heard.address));
    if (found == messages_.end()) return false;
    const auto [from, to] = in_time(found->second, heard.at);
    return std::any_of(from, to, [&](const Heard& one) { return one.payload == heard.payload; });
  }
  [[nodiscard]] bool holds(const CanFrame& frame, TimePoint at) const {
    const auto found = frames_.find(frame.id);
    if (found == frames_.end()) return false;
    const auto [from, to] = in_time(found->second, at);
    return std::any_of(from, to, [&](const CanFrame& one) {
      return std::equal(one.data().begin(), one.data().end(), frame.data().begin(), frame.data().end());
    });
  }

 private:
  std::map<std::string, std::vector<Heard>> messages_;
  std::map<CanId, std::vector<CanFrame>> frames_;
};

}  // namespace

std::optional<Finding> judge_readings(const Plan& plan, const Trace& trace) {
  constexpr char kRule[] = "no invented reading";
  const Listening listening(plan, trace);
  const Truth truth(trace.wire, plan.scenario.j1939.has_value());
  for (const std::string& line : trace.journal) {
    const JournalText text(line);
    if (!text.is("reading") || !text.value("value")) continue;
    const TimePoint at = text.at();
    const std::string_view signal = text.text("signal");
    bool said = false;
    bool asked = false;
    bool true_one = plan.lying;
    const auto [from, to] = listening.answers_at(at);
    for (auto it = from; it != to; ++it) {
      const Heard& heard = it->second.heard;
      const auto value = read_answer(signal, heard.payload);
      if (!value || unit_text(heard.id, heard.address) != text.text("ecu") || !same(value->first, line))
        continue;
      said = true;
      const auto service = static_cast<std::uint8_t>(heard.payload[0] - 0x40);
      asked =
          asked || std::any_of(it->second.open.begin(), it->second.open.end(), [&](const OpenRequest& one) {
            return asks_for(one.payload, service, value->second);
          });
      true_one = true_one || truth.holds(heard);
    }
    const auto [first, last] = listening.frames_at(at);
    for (auto it = first; it != last; ++it) {
      const auto value = read_group(signal, it->second);
      if (!value || unit_text(it->second.id, std::nullopt) != text.text("ecu") || !same(*value, line))
        continue;
      said = asked = true;
      true_one = true_one || truth.holds(it->second, at);
    }
    if (!said) return Finding{kRule, at, "no message heard at that time says so: " + line};
    if (!asked) return Finding{kRule, at, "nobody had asked for it: " + line};
    if (!true_one) return Finding{kRule, at, "nobody has put it on the wire: " + line};
  }
  return std::nullopt;
}

}  // namespace sumplog::hostile
