#include "core/job/cue_sound.h"

#include <gtest/gtest.h>

#include <filesystem>
#include <map>
#include <regex>
#include <string>

#include "core/decoder/folders.h"

namespace sumplog {
namespace {

TEST(CueSound, WhatCallsForThePlugSoundsLikeThePlug) {
  for (const char* cue : {"window_ended", "engine_stopped", "no_reading", "too_fast"})
    EXPECT_EQ(sound_of(cue), CueSound::plug_in) << cue;
}

TEST(CueSound, TheMomentOfTheCheckHasItsOwn) {
  EXPECT_EQ(sound_of("window_starts"), CueSound::now);
  EXPECT_EQ(sound_of("decision_point"), CueSound::now);
}

TEST(CueSound, EverythingElseIsGetReady) {
  for (const char* cue : {"soon_5_min", "soon_2_min", "soon_1_min", "ends_in_1_min", "lay_out",
                          "selector_cycle", "hot_engine", "of tomorrow"})
    EXPECT_EQ(sound_of(cue), CueSound::ready) << cue;
}

/// Two places know it, because the page sounds by itself: they must agree.
TEST(CueSound, ThePageSoundsTheSame) {
  const std::string page =
      testing::file_text(std::filesystem::path{SUMPLOG_SOURCE} / "src/page/js/sounds.js");
  const std::map<std::string, CueSound> sounds{
      {"get_ready", CueSound::ready}, {"now", CueSound::now}, {"plug_in", CueSound::plug_in}};
  const std::regex row(R"~((\w+): "(get_ready|now|plug_in)")~");
  std::size_t rows = 0;
  for (std::sregex_iterator at(page.begin(), page.end(), row), end; at != end; ++at, ++rows)
    EXPECT_EQ(sound_of((*at)[1].str()), sounds.at((*at)[2].str())) << (*at)[1];
  EXPECT_GE(rows, 10U);
}

TEST(CueSound, HasANameForPrograms) {
  EXPECT_EQ(text_of(CueSound::ready), "ready");
  EXPECT_EQ(text_of(CueSound::now), "now");
  EXPECT_EQ(text_of(CueSound::plug_in), "plug_in");
}

}  // namespace
}  // namespace sumplog
