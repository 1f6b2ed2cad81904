#pragma once
#include <cstdint>
#include <optional>
#include <string_view>

namespace sumplog {

/// What a person hears. Three, so that nobody must learn more under a car.
enum class CueSound : std::uint8_t { ready, now, plug_in };

/// "ready", "now", "plug_in"
[[nodiscard]] std::string_view text_of(CueSound sound);

/// Which of them belongs to a cue of the journal. What calls for the plug, or forbids taking it out, sounds like `plug_in`.
/// in   cue  name of a CueEvent; an unknown one sounds like `ready`
[[nodiscard]] CueSound sound_of(std::string_view cue);

}  // namespace sumplog
