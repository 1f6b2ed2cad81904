#include "core/vehicle/j1939_memory.h"

#include <algorithm>

namespace sumplog {
namespace {

constexpr std::uint8_t kNotAvailable = 0xFF;  // SAE J1939-71
constexpr std::size_t kFrameBytes = 8;
constexpr std::size_t kCodeBytes = 4;
constexpr unsigned kBitsPerByte = 8;
constexpr unsigned kBitsOfLamp = 2;
constexpr unsigned kSpnHighShift = 5;  // SAE J1939-73: the three highest bits of the SPN stand above the FMI
constexpr std::uint8_t kConversionMethod = 0x80;  // SAE J1939-73

void append(std::vector<std::uint8_t>& to, const J1939CodePlan& code) {
  to.push_back(static_cast<std::uint8_t>(code.spn));
  to.push_back(static_cast<std::uint8_t>(code.spn >> kBitsPerByte));
  to.push_back(static_cast<std::uint8_t>(code.spn >> (2 * kBitsPerByte) << kSpnHighShift | code.fmi));
  to.push_back(static_cast<std::uint8_t>(code.count | (code.old_conversion ? kConversionMethod : 0U)));
}

}  // namespace

J1939Memory::J1939Memory(const std::vector<J1939CodePlan>& codes) {
  for (const J1939CodePlan& plan : codes) {
    State state = plan.active ? State::active : State::previously_active;
    if (!plan.there) state = State::gone;
    codes_.push_back({plan, state});
  }
}

void J1939Memory::apply(const J1939CodeChange& change) {
  Code& code = codes_.at(change.code);
  if (change.active) {
    code.state = State::active;
  } else if (code.state == State::active) {
    code.state = State::previously_active;
  }
}

void J1939Memory::apply(const CodesCleared&) {
  for (Code& code : codes_) code.state = State::gone;
}

std::vector<std::uint8_t> J1939Memory::message(std::uint32_t pgn, std::uint8_t source) const {
  const State wanted = pgn == kActiveCodes ? State::active : State::previously_active;
  std::vector<std::uint8_t> data{0, kNotAvailable};
  for (const Code& code : codes_) {
    if (code.plan.source != source) continue;
    if (code.state == State::active)
      data[0] =
          static_cast<std::uint8_t>(data[0] | 1U << (kBitsOfLamp * static_cast<unsigned>(code.plan.lamp)));
    if (code.state == wanted) append(data, code.plan);
  }
  if (data.size() == 2) data.resize(2 + kCodeBytes);
  data.resize(std::max(data.size(), kFrameBytes), kNotAvailable);
  return data;
}

}  // namespace sumplog
