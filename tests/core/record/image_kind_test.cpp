#include "core/record/image_kind.h"

#include <gtest/gtest.h>

#include <string>

namespace sumplog {
namespace {

using namespace std::string_literals;

std::string type_of(const std::string& bytes) {
  const auto kind = image_kind(bytes);
  return kind ? std::string(kind->type) : "none";
}

// The first bytes as the standards give them: ITU-T T.81 B.1.1.3, ISO/IEC 15948 5.2, RFC 9649 2.4.
TEST(ImageKind, IsWhatTheFirstBytesSay) {
  EXPECT_EQ(type_of("\xFF\xD8\xFF\xE0\x00\x10JFIF"s), "image/jpeg");
  EXPECT_EQ(type_of("\xFF\xD8\xFF\xDB"s), "image/jpeg");
  EXPECT_EQ(type_of("\x89PNG\r\n\x1A\n\x00\x00\x00\rIHDR"s), "image/png");
  EXPECT_EQ(type_of("RIFF\x10\x00\x00\x00WEBPVP8 "s), "image/webp");
}

TEST(ImageKind, WhatIsSomethingElseOrTooShortIsNone) {
  for (const std::string& bytes :
       {""s, "\xFF\xD8"s, "\xFF\xD9\xFF"s, "\x89PNG\n"s, "RIFF\x10\x00\x00\x00WAVE"s, "RIFF"s,
        "RIFF\x10\x00\x00\x00WEB"s, "<svg xmlns="s, "<html>"s, "%PDF-1.7"s})
    EXPECT_EQ(type_of(bytes), "none") << bytes;
}

}  // namespace
}  // namespace sumplog
