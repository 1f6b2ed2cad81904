#include "core/vehicle/hostile/ear.h"

#include <algorithm>
#include <array>
#include <chrono>
#include <span>

namespace sumplog::hostile {
namespace {

using namespace std::chrono_literals;

constexpr Duration kNextFrameDue = 1s;        // ISO 15765-2, N_Cr
constexpr std::size_t kLongestTaken = 65535;  // bytes: what this program takes (docs/journal.md)
constexpr std::size_t kClassic = 8;           // bytes, ISO 11898-1
constexpr std::array<std::size_t, 8> kFull{8, 12, 16, 20, 24, 32, 48, 64};  // ISO 11898-1, DLC 8…15

std::string hex(std::uint32_t value, int digits) {
  std::string text;
  for (int shift = 4 * (digits - 1); shift >= 0; shift -= 4)
    text += "0123456789ABCDEF"[value >> shift & 0xFU];
  return text;
}

/// ISO 15765-2: a long frame must not hold what a shorter one could.
std::size_t shortest_long_single(std::size_t length, std::size_t offset) {
  std::size_t shorter = kClassic;
  for (const std::size_t full : kFull)
    if (full < length) shorter = full;
  return shorter - offset - (shorter == kClassic ? 1 : 2) + 1;
}

}  // namespace

Way way_of(CanId id) {
  if (!id.extended) {
    if (id.value == 0x7DF) return Way::to_all;
    if (id.value >= 0x7E0 && id.value <= 0x7E7) return Way::to_unit;
    if (id.value >= 0x7E8 && id.value <= 0x7EF) return Way::from_unit;
    return Way::none;
  }
  const std::uint32_t format = id.value >> 16;
  const bool by_tester = (id.value & 0xFFU) == 0xF1;
  const bool to_tester = (id.value >> 8 & 0xFFU) == 0xF1;
  if (format == 0x18DB || format == 0x18CD) return by_tester ? Way::to_all : Way::none;
  if ((format != 0x18DA && format != 0x18CE) || by_tester == to_tester) return Way::none;
  return by_tester ? Way::to_unit : Way::from_unit;
}

bool has_address_byte(CanId id) {
  return id.extended && (id.value >> 16 == 0x18CD || id.value >> 16 == 0x18CE);
}

bool may_answer(CanId request, CanId response) {
  if (way_of(response) != Way::from_unit || request.extended != response.extended) return false;
  if (way_of(request) == Way::to_all) return true;
  if (way_of(request) != Way::to_unit) return false;
  if (!request.extended) return response.value == request.value + 8;
  return request.value >> 16 == response.value >> 16 &&
         (request.value >> 8 & 0xFFU) == (response.value & 0xFFU);
}

std::string unit_text(CanId id, std::optional<std::uint8_t> address) {
  std::string text = hex(id.value, id.extended ? 8 : 3);
  if (address) text += "/" + hex(*address, 2);
  return text;
}

std::optional<Heard> Ear::on_frame(const CanFrame& frame, TimePoint at) {
  const Way way = way_of(frame.id);
  if (frame.kind != FrameKind::data || way == Way::none) return std::nullopt;
  const std::span<const std::uint8_t> data = frame.data();
  const std::size_t offset = has_address_byte(frame.id) ? 1 : 0;
  Key key{frame.id, std::nullopt};
  if (offset == 1 && !data.empty()) key.second = data[0];
  Count& count = counts_[unit_text(key.first, key.second)];
  ++count.frames;
  const auto drop_running = [&] {
    const auto found = running_.find(key);
    if (found == running_.end()) return;
    count.running -= found->second.frames;
    running_.erase(found);
  };
  if (const auto found = running_.find(key);
      trust_ == Trust::one_sender && found != running_.end() && found->second.until <= at)
    drop_running();
  if (data.size() <= offset) return std::nullopt;

  Heard heard{at, at, frame.id, key.second, way, {}};
  const std::uint8_t type = data[offset] >> 4;
  const std::size_t low = data[offset] & 0xFU;
  if (type == 0) {
    const bool is_long = data.size() > kClassic;
    const std::size_t length = is_long ? data[offset + 1] : low;
    const std::size_t begin = offset + (is_long ? 2 : 1);
    if (length == 0 || begin + length > data.size()) return std::nullopt;
    if (is_long && (low != 0 || length < shortest_long_single(data.size(), offset))) return std::nullopt;
    if (trust_ == Trust::one_sender) drop_running();
    ++count.whole;
    heard.payload.assign(data.begin() + static_cast<std::ptrdiff_t>(begin),
                         data.begin() + static_cast<std::ptrdiff_t>(begin + length));
    return heard;
  }
  if (type == 1) {
    if (way == Way::to_all || std::find(kFull.begin(), kFull.end(), data.size()) == kFull.end())
      return std::nullopt;
    std::size_t length = low << 8 | data[offset + 1];
    std::size_t begin = offset + 2;
    std::size_t least = data.size() - offset - (data.size() == kClassic ? 1 : 2) + 1;
    if (length == 0) {
      for (std::size_t i = 2; i < 6; ++i) length = length << 8 | data[offset + i];
      begin = offset + 6;
      least = 4096;
    }
    if (length < least) return std::nullopt;
    if (length > kLongestTaken) {
      if (trust_ == Trust::one_sender) drop_running();
      return std::nullopt;
    }
    drop_running();
    Running& running = running_[key];
    running.first_at = at;
    running.until = at + kNextFrameDue;
    running.expected = length;
    running.frame_length = data.size();
    running.frames = 1;
    running.payload.assign(data.begin() + static_cast<std::ptrdiff_t>(begin), data.end());
    ++count.running;
    return std::nullopt;
  }
  if (type == 2) {
    const auto found = running_.find(key);
    if (found == running_.end()) return std::nullopt;
    Running& running = found->second;
    const std::size_t left = running.expected - running.payload.size();
    const std::size_t room = running.frame_length - offset - 1;
    const std::size_t least = std::min(left, room) + offset + 1;
    if (data.size() < least || data.size() > running.frame_length) return std::nullopt;
    if (low != running.next) {
      drop_running();
      return std::nullopt;
    }
    const std::size_t taken = std::min(left, data.size() - offset - 1);
    const auto from = data.begin() + static_cast<std::ptrdiff_t>(offset + 1);
    running.payload.insert(running.payload.end(), from, from + static_cast<std::ptrdiff_t>(taken));
    running.next = static_cast<std::uint8_t>((running.next + 1) % 16);
    running.until = at + kNextFrameDue;
    ++running.frames;
    ++count.running;
    if (running.payload.size() < running.expected) return std::nullopt;
    heard.first_at = running.first_at;
    heard.payload = running.payload;
    count.whole += running.frames;
    drop_running();
    return heard;
  }
  if (type == 3 && data.size() >= offset + 3 && low <= 2) ++count.control;
  return std::nullopt;
}

std::vector<TimePoint> core_times(const std::vector<Item>& items) {
  std::vector<TimePoint> times;
  times.reserve(items.size());
  TimePoint now = TimePoint::min();
  for (const Item& item : items) times.push_back(now = std::max(now, time_of(item)));
  return times;
}

}  // namespace sumplog::hostile
