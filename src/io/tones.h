#pragma once
#include <string>

#include "core/job/cue_sound.h"

namespace sumplog {

/// The figure of tones of a sound as a WAV file: 16 bits, one channel, 22 050 samples a second.
/// ready: two steps up, once. now: six short high beats. plug in: low and lower in turn, for two seconds.
/// src  RIFF/WAVE, PCM (from memory); the figures are our own choice: different in length, height and rhythm
[[nodiscard]] std::string wav_of(CueSound sound);

}  // namespace sumplog
