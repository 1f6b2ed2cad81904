#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sched.h>
#include <signal.h>
#include <sys/mount.h>
#include <sys/resource.h>
#include <unistd.h>

#include <chrono>
#include <cstring>
#include <thread>

#include "io/direct_recorder.h"
#include "io/recorder.h"
#include "io/verify.h"
#include "temporary_folder.h"

namespace sumplog {
namespace {

using namespace sumplog::test;
using namespace std::chrono_literals;
using ::testing::HasSubstr;

/// A disk of 128 KiB, seen by this process only and gone with it. Empty text: this user may not make one.
std::string small_disk(const TemporaryFolder& folder) {
  if (::unshare(CLONE_NEWNS) != 0) return "";
  if (::mount("none", "/", nullptr, MS_REC | MS_PRIVATE, nullptr) != 0) return "";
  const std::string place = folder / "disk";
  std::filesystem::create_directory(place);
  if (::mount("tmpfs", place.c_str(), "tmpfs", 0, "size=128k") != 0) return "";
  return place;
}

TEST(FullDisk, RecordingStopsAtAWholeLineAndGoesOnWhenSpaceIsFreed) {
  TemporaryFolder folder;
  const std::string disk = small_disk(folder);
  if (disk.empty()) GTEST_SKIP() << "only root can mount a small tmpfs: " << std::strerror(errno);
  const std::string path = disk + "/job.log";
  put_bytes(disk + "/filler", std::string(64 << 10, 'f'));
  RecorderOptions options;
  options.retry_after = 2ms;
  Recorder recorder(
      must(JobFile::create(path, header())).file, [] {}, options);
  std::vector<Item> written;
  const auto take = [&] {
    for (Item& item : recorder.take_written()) written.push_back(std::move(item));
  };
  std::uint32_t next = 0;
  while (!recorder.failing()) {
    ASSERT_LT(next, 10'000U) << "128 KiB hold some 2,000 frames";
    ASSERT_TRUE(recorder.submit(numbered_frame(next, at_s(1 + 0.001 * next))));
    ++next;
    take();
    // No faster than the worker writes: what waits must fit when there is room again, on a slow machine too.
    while (next % 100 == 0 && written.size() < next && !recorder.failing()) {
      std::this_thread::sleep_for(1ms);
      take();
    }
  }
  EXPECT_THAT(recorder.take_fault()->text(), HasSubstr("job.log: cannot write: No space left on device"));
  const std::string full = bytes_of(path);
  EXPECT_EQ(full.back(), '\n');
  EXPECT_EQ(must(verify(path)).state, SealState::open);

  std::filesystem::remove(disk + "/filler");
  const auto limit = std::chrono::steady_clock::now() + 60s;
  while (recorder.failing() && std::chrono::steady_clock::now() < limit) std::this_thread::sleep_for(1ms);
  must(recorder.close(at_s(100)));
  take();
  EXPECT_EQ(must(verify(path)).state, SealState::closed);
  const auto numbers = frame_numbers(replayed(bytes_of(path)).items);
  ASSERT_EQ(numbers.size(), next);
  for (std::uint32_t n = 0; n < next; ++n) ASSERT_EQ(numbers[n], n);
  EXPECT_EQ(written.size(), next + 1U);
}

TEST(FullDisk, NoHalfMadeJobStaysOnADiskWithoutRoom) {
  TemporaryFolder folder;
  const std::string disk = small_disk(folder);
  if (disk.empty()) GTEST_SKIP() << "only root can mount a small tmpfs: " << std::strerror(errno);
  std::vector<Item> large = header();
  large.push_back(DecoderText{at_s(0), "large", std::string(200 << 10, 'x')});
  const auto made = JobFile::create(disk + "/job.log", large);
  ASSERT_FALSE(made);
  EXPECT_THAT(made.error().text(), HasSubstr("No space left on device; free some space on this disk"));
  EXPECT_TRUE(std::filesystem::is_empty(disk));
}

TEST(FullDisk, ALimitForTheSizeOfOneFileIsAFullDiskToo) {
  TemporaryFolder folder;
  const std::string path = folder / "job.log";
  const auto before = ::signal(SIGXFSZ, SIG_IGN);
  rlimit limit{};
  ASSERT_EQ(::getrlimit(RLIMIT_FSIZE, &limit), 0);
  const rlim_t soft = std::exchange(limit.rlim_cur, 10'000);
  {
    DirectRecorder recorder(must(JobFile::create(path, header())).file);
    ASSERT_EQ(::setrlimit(RLIMIT_FSIZE, &limit), 0);
    std::uint32_t n = 0;
    Result<Item> last = Item{};
    while ((last = recorder.record(numbered_frame(n, at_s(1 + 0.01 * n))))) ++n;
    limit.rlim_cur = soft;
    ASSERT_EQ(::setrlimit(RLIMIT_FSIZE, &limit), 0);
    EXPECT_THAT(last.error().text(),
                HasSubstr("job.log: cannot write: File too large; the limit for the size"));
    EXPECT_EQ(bytes_of(path).back(), '\n');
    EXPECT_EQ(frame_numbers(replayed(bytes_of(path)).items).size(), n);
    must(recorder.close(at_s(60)));
  }
  EXPECT_EQ(must(verify(path)).state, SealState::closed);
  ::signal(SIGXFSZ, before);
}

/// A disk that is taken away while the job runs: its folder is empty, what was opened can still be written to.
class VanishedDisk : public ::testing::Test {
 protected:
  void SetUp() override {
    disk = small_disk(folder);
    if (disk.empty()) GTEST_SKIP() << "only root can mount a small tmpfs: " << std::strerror(errno);
    path = disk + "/job.log";
    options.retry_after = 2ms;
    recorder = std::make_unique<Recorder>(
        must(JobFile::create(path, header())).file, [] {}, options);
    must(recorder->submit_synced(entry("before", at_s(1)), 1));
    wait_for_token(1);
  }
  void wait_for_token(Recorder::Token wanted) {
    const auto limit = std::chrono::steady_clock::now() + 60s;
    while (std::chrono::steady_clock::now() < limit) {
      for (const auto token : recorder->take_synced())
        if (token == wanted) return;
      std::this_thread::sleep_for(1ms);
    }
    FAIL() << "never acknowledged";
  }
  static std::vector<std::string> entries_of(const std::string& file) {
    std::vector<std::string> ids;
    for (const Item& item : replayed(bytes_of(file)).items)
      if (const auto* one = std::get_if<Entry>(&item)) ids.push_back(one->id);
    return ids;
  }

  TemporaryFolder folder;
  std::string disk;
  std::string path;
  RecorderOptions options;
  std::unique_ptr<Recorder> recorder;
};

TEST_F(VanishedDisk, WhatIsAcknowledgedAfterwardsLiesUnderTheJobsName) {
  ASSERT_EQ(::umount2(disk.c_str(), MNT_DETACH), 0);
  ASSERT_FALSE(std::filesystem::exists(path));
  must(recorder->submit_synced(entry("after", at_s(2)), 2));
  wait_for_token(2);
  EXPECT_EQ(entries_of(path), (std::vector<std::string>{"before", "after"}));
  must(recorder->close(at_s(3)));
  EXPECT_EQ(must(verify(path)).state, SealState::closed);
}

TEST_F(VanishedDisk, AForeignFileUnderTheJobsNameIsNeverOverwritten) {
  ASSERT_EQ(::umount2(disk.c_str(), MNT_DETACH), 0);
  put_bytes(path, "somebody else's\n");
  must(recorder->submit_synced(entry("after", at_s(2)), 2));
  const auto limit = std::chrono::steady_clock::now() + 60s;
  while (recorder->trouble().find("another file") == std::string::npos &&
         std::chrono::steady_clock::now() < limit)
    std::this_thread::sleep_for(1ms);
  EXPECT_THAT(recorder->trouble(), HasSubstr("another file has the name of this job; move that file away"));
  EXPECT_EQ(bytes_of(path), "somebody else's\n");
  std::filesystem::remove(path);
  wait_for_token(2);
  EXPECT_EQ(entries_of(path), (std::vector<std::string>{"before", "after"}));
}

TEST_F(VanishedDisk, TheOldStateOnADiskThatCameBackIsBroughtUpToDate) {
  const std::string old_state = bytes_of(path);
  ASSERT_EQ(::umount2(disk.c_str(), MNT_DETACH), 0);
  put_bytes(path, old_state);
  must(recorder->submit_synced(entry("after", at_s(2)), 2));
  wait_for_token(2);
  EXPECT_EQ(entries_of(path), (std::vector<std::string>{"before", "after"}));
}

}  // namespace
}  // namespace sumplog
