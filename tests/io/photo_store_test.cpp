#include "io/photo_store.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <cerrno>
#include <condition_variable>

#include "core/record/entry_table.h"
#include "temporary_folder.h"

namespace sumplog {
namespace {

using namespace sumplog::test;
using namespace std::string_literals;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;

const std::string kJpeg = "\xFF\xD8\xFF\xE0 the pan, seen from below \xFF\xD9"s;

TEST(PhotoStore, APhotoLiesBesideItsJobUnderItsOwnHash) {
  const TemporaryFolder folder;
  const auto photo = must(store_photo(folder / "20251125-3f2a91c0.log", kJpeg));
  // sha256sum of these bytes, Debian coreutils
  EXPECT_EQ(photo.file, "20251125-3f2a91c0-" + photo.sha256.substr(0, 12) + ".jpg");
  EXPECT_EQ(bytes_of(folder / photo.file), kJpeg);
  EXPECT_EQ(photo.bytes, kJpeg.size());
  EXPECT_EQ(photo.type, "image/jpeg");
  EXPECT_THAT(folder.names(), ElementsAre(photo.file));
  const auto fields = checked_fields("photo", photo.fields("pan", "K. Example"));
  ASSERT_TRUE(fields) << fields.error().text();
  EXPECT_EQ(*fields, photo.fields("pan", "K. Example"));
}

TEST(PhotoStore, TheSamePhotoAgainIsTheSameFile) {
  const TemporaryFolder folder;
  const auto first = must(store_photo(folder / "job.log", kJpeg));
  const auto again = must(store_photo(folder / "job.log", kJpeg));
  EXPECT_EQ(first.file, again.file);
  EXPECT_EQ(folder.names().size(), 1U);
  const auto other = must(store_photo(folder / "job.log", kJpeg + "x"));
  EXPECT_NE(other.file, first.file);
}

TEST(PhotoStore, AForeignFileOfThatNameIsNeverOverwritten) {
  const TemporaryFolder folder;
  const auto photo = must(store_photo(folder / "job.log", kJpeg));
  put_bytes(folder / photo.file, "something else");
  const auto again = store_photo(folder / "job.log", kJpeg);
  ASSERT_FALSE(again);
  EXPECT_THAT(again.error().text(), HasSubstr("another file has the name of this photo"));
  EXPECT_EQ(bytes_of(folder / photo.file), "something else");
}

TEST(PhotoStore, WhatIsNoPhotoIsRefusedAndLeavesNothing) {
  const TemporaryFolder folder;
  const auto stored = store_photo(folder / "job.log", "<html>");
  ASSERT_FALSE(stored);
  EXPECT_THAT(stored.error().text(), HasSubstr("neither JPEG nor PNG nor WebP"));
  EXPECT_THAT(folder.names(), IsEmpty());
}

TEST(PhotoStore, ADiskWithoutRoomLeavesNothingHalf) {
  const TemporaryFolder folder;
  DiskCalls calls;
  calls.write = [](int, const void*, std::size_t) -> ssize_t { return errno = ENOSPC, -1; };
  const auto stored = store_photo(folder / "job.log", kJpeg, calls);
  ASSERT_FALSE(stored);
  EXPECT_THAT(stored.error().text(), HasSubstr("No space left on device; free some space"));
  EXPECT_THAT(folder.names(), IsEmpty());
}

TEST(PhotoStore, WorksOnItsOwnThreadInOrder) {
  const TemporaryFolder folder;
  std::vector<std::string> files;
  {
    PhotoStore store([](const std::function<void()>& done) { done(); });
    for (const char* const tail : {"a", "b", "c"})
      store.store(folder / "job.log", kJpeg + tail,
                  [&](Result<StoredPhoto> stored) { files.push_back(must(std::move(stored)).file); });
  }  // ends after what is queued
  ASSERT_EQ(files.size(), 3U);
  EXPECT_EQ(files[1], must(store_photo(folder / "job.log", kJpeg + "b")).file);
}

}  // namespace
}  // namespace sumplog
