#include "core/job/cue_sound.h"

#include <gtest/gtest.h>

namespace sumplog {
namespace {

TEST(CueSound, WhatCallsForThePlugSoundsLikeThePlug) {
  for (const char* cue : {"ends_in_1_min", "window_ended", "engine_stopped", "no_reading", "too_fast"})
    EXPECT_EQ(sound_of(cue), CueSound::plug_in) << cue;
}

TEST(CueSound, TheMomentOfTheCheckHasItsOwn) {
  EXPECT_EQ(sound_of("window_starts"), CueSound::now);
  EXPECT_EQ(sound_of("decision_point"), CueSound::now);
}

TEST(CueSound, EverythingElseIsGetReady) {
  for (const char* cue :
       {"soon_5_min", "soon_2_min", "soon_1_min", "lay_out", "selector_cycle", "hot_engine", "of tomorrow"})
    EXPECT_EQ(sound_of(cue), CueSound::ready) << cue;
}

TEST(CueSound, HasANameForPrograms) {
  EXPECT_EQ(text_of(CueSound::ready), "ready");
  EXPECT_EQ(text_of(CueSound::now), "now");
  EXPECT_EQ(text_of(CueSound::plug_in), "plug_in");
}

}  // namespace
}  // namespace sumplog
