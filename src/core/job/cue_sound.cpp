#include "core/job/cue_sound.h"

#include <algorithm>
#include <array>

namespace sumplog {
namespace {

constexpr std::array<std::string_view, 2> kNow{"window_starts", "decision_point"};
constexpr std::array<std::string_view, 4> kPlugIn{"window_ended", "engine_stopped", "no_reading", "too_fast"};

template <std::size_t N>
bool among(const std::array<std::string_view, N>& names, std::string_view name) {
  return std::find(names.begin(), names.end(), name) != names.end();
}

}  // namespace

std::string_view text_of(CueSound sound) {
  switch (sound) {
    case CueSound::ready: return "ready";
    case CueSound::now: return "now";
    case CueSound::plug_in: return "plug_in";
  }
  return {};
}

CueSound sound_of(std::string_view cue) {
  if (among(kNow, cue)) return CueSound::now;
  if (among(kPlugIn, cue)) return CueSound::plug_in;
  return CueSound::ready;
}

}  // namespace sumplog
