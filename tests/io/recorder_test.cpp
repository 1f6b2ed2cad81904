#include "io/recorder.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sys/stat.h>
#include <unistd.h>

#include <atomic>
#include <cerrno>

#include "io/direct_recorder.h"
#include "io/verify.h"
#include "temporary_folder.h"

namespace sumplog {
namespace {

using namespace sumplog::test;
using namespace std::chrono_literals;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;

// Long enough for any machine: a test waits for what must happen, never for a time.
constexpr auto kPatience = 60s;
// Nothing that these tests expect to be missing may come late: the worker has to be given the chance.
constexpr auto kChance = 30ms;

/// A disk that can be told to fail or to take its time.
class Disk {
 public:
  DiskCalls calls() {
    DiskCalls result;
    result.write = [this](int fd, const void* bytes, std::size_t n) -> ssize_t {
      pass(write_gate_);
      if (write_fails) return errno = refusal, -1;
      return ::write(fd, bytes, n);
    };
    result.sync_data = [this](int fd) {
      pass(sync_gate_);
      ++syncs;
      if (sync_fails) return errno = EIO, -1;
      return ::fdatasync(fd);
    };
    result.sync_all = [this](int fd) { return copy_fails ? (errno = EIO, -1) : ::fsync(fd); };
    return result;
  }
  void hold_writes(bool hold) { set(write_gate_, hold); }
  void hold_syncs(bool hold) { set(sync_gate_, hold); }

  std::atomic<int> refusal = ENOSPC;  ///< errno of a write that fails
  std::atomic<bool> write_fails = false;
  std::atomic<bool> sync_fails = false;
  std::atomic<bool> copy_fails = false;
  std::atomic<int> syncs = 0;

 private:
  void pass(const bool& held) {
    std::unique_lock lock(mutex_);
    moved_.wait(lock, [&] { return !held; });
  }
  void set(bool& gate, bool hold) {
    const std::lock_guard lock(mutex_);
    gate = hold;
    moved_.notify_all();
  }
  std::mutex mutex_;
  std::condition_variable moved_;
  bool write_gate_ = false;
  bool sync_gate_ = false;
};

class RecorderTest : public ::testing::Test {
 protected:
  void start(RecorderOptions options = {}) {
    auto created = must(JobFile::create(path, header(), disk.calls()));
    recorder = std::make_unique<Recorder>(
        std::move(created.file), [this] { notify(); }, options);
  }
  void TearDown() override {
    disk.hold_writes(false);
    disk.hold_syncs(false);
    recorder.reset();
  }

  /// Takes what the worker gives until `enough`, as the owner's loop does: woken by notify.
  void take_until(const std::function<bool()>& enough) {
    const auto limit = std::chrono::steady_clock::now() + kPatience;
    for (;;) {
      take();
      if (enough()) return;
      std::unique_lock lock(mutex);
      ASSERT_TRUE(woken.wait_until(lock, limit, [&] { return notified; })) << "the worker never told";
      notified = false;
    }
  }
  void take() {
    for (Item& item : recorder->take_written()) written.push_back(std::move(item));
    for (const auto token : recorder->take_synced()) tokens.push_back(token);
    if (auto fault = recorder->take_fault()) faults.push_back(fault->text());
  }
  void give_chance() {
    std::this_thread::sleep_for(kChance);
    take();
  }
  void submit_frames(std::uint32_t from, std::uint32_t to) {
    for (std::uint32_t n = from; n < to; ++n)
      ASSERT_TRUE(recorder->submit(numbered_frame(n, at_s(1 + 0.01 * n))));
  }
  bool has_written(std::size_t n) const { return written.size() >= n; }
  std::string file() const { return bytes_of(path); }

  TemporaryFolder folder;
  std::string path = folder / "job.log";
  Disk disk;
  std::vector<Item> written;
  std::vector<Recorder::Token> tokens;
  std::vector<std::string> faults;
  std::unique_ptr<Recorder> recorder;

 private:
  void notify() {
    const std::lock_guard lock(mutex);
    notified = true;
    woken.notify_all();
  }
  std::mutex mutex;
  std::condition_variable woken;
  bool notified = false;
};

TEST_F(RecorderTest, ItemsComeBackInTheOrderOfTheFileAsTheirLinesReadBack) {
  start();
  submit_frames(0, 500);
  take_until([&] { return has_written(500); });
  const auto in_file = replayed(file());
  ASSERT_EQ(in_file.texts.size(), header().size() + 500);
  for (std::size_t i = 0; i < 500; ++i) ASSERT_EQ(text_of(written[i]), in_file.texts[header().size() + i]);
}

TEST_F(RecorderTest, NothingComesBackBeforeItIsWritten) {
  start();
  disk.hold_writes(true);
  submit_frames(0, 10);
  give_chance();
  EXPECT_THAT(written, IsEmpty());
  disk.hold_writes(false);
  take_until([&] { return has_written(10); });
}

TEST_F(RecorderTest, AnEntryIsAcknowledgedOnlyWhenItAndEverythingBeforeItIsSynced) {
  start();
  disk.hold_syncs(true);
  submit_frames(0, 10);
  must(recorder->submit_synced(entry("one", at_s(1)), 17));
  take_until([&] { return has_written(11); });
  give_chance();
  EXPECT_THAT(tokens, IsEmpty());
  disk.hold_syncs(false);
  take_until([&] { return !tokens.empty(); });
  EXPECT_THAT(tokens, ElementsAre(17U));
}

TEST_F(RecorderTest, EntriesThatComeTogetherShareOneSync) {
  RecorderOptions options;
  options.sync_every = 1h;
  start(options);
  disk.hold_syncs(true);
  must(recorder->submit_synced(entry("first", at_s(1)), 0));
  take_until([&] { return has_written(1); });  // the worker stands in the sync of the first one
  for (Recorder::Token n = 1; n <= 100; ++n)
    must(recorder->submit_synced(entry(std::to_string(n), at_s(1)), n));
  disk.hold_syncs(false);
  take_until([&] { return tokens.size() == 101; });
  EXPECT_TRUE(std::is_sorted(tokens.begin(), tokens.end()));
  EXPECT_LE(disk.syncs, 3);
}

TEST_F(RecorderTest, FramesReachTheDiskThoughNoEntryAsksForIt) {
  RecorderOptions options;
  options.sync_every = 5ms;
  start(options);
  submit_frames(0, 1);
  const auto limit = std::chrono::steady_clock::now() + kPatience;
  while (disk.syncs == 0 && std::chrono::steady_clock::now() < limit) std::this_thread::sleep_for(1ms);
  EXPECT_GT(disk.syncs, 0);
}

TEST_F(RecorderTest, WhatStandsUnsealedIsSealedWhenNoMoreItemsCome) {
  RecorderOptions options;
  options.sync_every = 5ms;
  start(options);
  submit_frames(0, 3);
  const auto limit = std::chrono::steady_clock::now() + kPatience;
  const auto is_sealed = [&] {
    const std::string bytes = file();  // read once: the worker goes on meanwhile
    JobScan scan;
    scan.on_bytes(bytes);
    scan.on_end();
    return scan.shape().sealed_bytes == bytes.size() && frame_numbers(replayed(bytes).items).size() == 3;
  };
  while (!is_sealed() && std::chrono::steady_clock::now() < limit) std::this_thread::sleep_for(1ms);
  EXPECT_TRUE(is_sealed());
  const std::string sealed = file();
  give_chance();
  EXPECT_EQ(file(), sealed) << "nothing changed, so no seal either";
}

TEST_F(RecorderTest, AFullQueueRefusesAndCountsNothingTwice) {
  RecorderOptions options;
  options.capacity = 10;
  options.reserve = 0;
  start(options);
  disk.hold_writes(true);
  submit_frames(0, 10);
  EXPECT_FALSE(recorder->submit(numbered_frame(10, at_s(2))));
  EXPECT_THAT(recorder->submit_synced(entry("e", at_s(2)), 1).error().text(), HasSubstr("too slow"));
  disk.hold_writes(false);
  take_until([&] { return has_written(10); });
  submit_frames(10, 20);
  take_until([&] { return has_written(20); });
  const auto numbers = frame_numbers(written);
  for (std::uint32_t n = 0; n < 20; ++n) EXPECT_EQ(numbers[n], n);
}

TEST_F(RecorderTest, FramesAreRefusedFirstAndRoomIsKeptForEntriesDeadlinesAndMarks) {
  RecorderOptions options;
  options.capacity = 10;
  options.reserve = 3;
  start(options);
  disk.hold_writes(true);
  submit_frames(0, 10);
  EXPECT_FALSE(recorder->submit(numbered_frame(10, at_s(2))));
  EXPECT_FALSE(recorder->submit(ReceiveDrops{at_s(2), BusName("can0"), 1}))
      << "it would fill the room by itself";
  EXPECT_TRUE(recorder->submit(Advance{at_s(2)}));
  must(recorder->submit_synced(entry("plug in", at_s(2)), 1));
  EXPECT_TRUE(recorder->submit(ScanMark{at_s(2), true, "after"}));
  EXPECT_FALSE(recorder->submit(Advance{at_s(2)}));
  EXPECT_FALSE(recorder->submit_synced(entry("no room", at_s(2)), 2));
  disk.hold_writes(false);
  take_until([&] { return has_written(13) && !tokens.empty(); });
  EXPECT_THAT(tokens, ElementsAre(1U));
  submit_frames(11, 12);
}

TEST_F(RecorderTest, AnEntryThatDoesNotReadBackIsRefusedAtOnce) {
  start();
  EXPECT_FALSE(recorder->submit_synced(Entry{at_s(1), "1", "note", "not json"}, 1));
  EXPECT_FALSE(recorder->submit_synced(Entry{at_s(1), "1", "note", "{\n}"}, 1));
  must(recorder->submit_synced(entry("good", at_s(1)), 2));
  take_until([&] { return !tokens.empty(); });
  EXPECT_THAT(tokens, ElementsAre(2U));
}

TEST_F(RecorderTest, AnItemThatDoesNotReadBackIsToldAndCostsNoOther) {
  start();
  ASSERT_TRUE(recorder->submit(numbered_frame(0, at_s(1))));
  ASSERT_TRUE(recorder->submit(Entry{at_s(1), "1", "note", "not json"}));
  ASSERT_TRUE(recorder->submit(numbered_frame(1, at_s(1))));
  take_until([&] { return has_written(2) && !faults.empty(); });
  EXPECT_THAT(faults.front(), HasSubstr("cannot be recorded"));
}

TEST_F(RecorderTest, AnItemThatDoesNotReadBackTakesNoRoomForGood) {
  RecorderOptions options;
  options.capacity = 2;
  options.reserve = 0;
  start(options);
  for (std::uint32_t n = 0; n < 5; ++n) {
    ASSERT_TRUE(recorder->submit(Entry{at_s(1), "1", "note", "not json"}));
    ASSERT_TRUE(recorder->submit(numbered_frame(n, at_s(1))));
    // The frame behind it is written in the same turn or a later one.
    take_until([&] { return has_written(n + 1); });
  }
}

TEST_F(RecorderTest, AFullDiskIsToldOnceWhileItemsGoOnAndIsCaughtUpInOrderWhenThereIsRoom) {
  RecorderOptions options;
  options.retry_after = 2ms;
  start(options);
  submit_frames(0, 5);
  take_until([&] { return has_written(5); });
  disk.write_fails = true;
  submit_frames(5, 10);
  must(recorder->submit_synced(entry("e", at_s(2)), 7));
  take_until([&] { return !faults.empty() && has_written(11); });
  EXPECT_TRUE(recorder->failing());
  EXPECT_THAT(recorder->trouble(), HasSubstr("No space left on device"));
  EXPECT_EQ(recorder->kept_in_memory(), 6U);
  give_chance();  // many retries
  EXPECT_EQ(faults.size(), 1U);
  EXPECT_THAT(faults.front(), HasSubstr("job.log: cannot write: No space left on device; free some space"));
  EXPECT_THAT(tokens, IsEmpty()) << "what is not on the disk is not acknowledged";
  EXPECT_EQ(frame_numbers(replayed(file()).items).size(), 5U);
  submit_frames(10, 15);
  take_until([&] { return has_written(16); });
  disk.write_fails = false;
  take_until([&] { return !tokens.empty() && !recorder->failing(); });
  EXPECT_EQ(recorder->trouble(), "");
  EXPECT_EQ(recorder->kept_in_memory(), 0U);
  submit_frames(15, 16);
  take_until([&] { return has_written(17); });
  const auto in_file = replayed(file());
  ASSERT_EQ(in_file.texts.size(), header().size() + 17);
  for (std::size_t i = 0; i < 17; ++i)
    EXPECT_EQ(text_of(written[i]), in_file.texts[header().size() + i]) << "shown and recorded differ";
  disk.write_fails = true;
  submit_frames(16, 17);
  take_until([&] { return faults.size() == 2; });
}

TEST_F(RecorderTest, MemoryIsBoundedWhileTheDiskIsFull) {
  RecorderOptions options;
  options.capacity = 100;
  options.reserve = 0;
  options.retry_after = 2ms;
  start(options);
  disk.write_fails = true;
  std::uint32_t taken = 0;
  for (std::uint32_t n = 0; n < 1000; ++n) {
    if (recorder->submit(numbered_frame(taken, at_s(1 + 0.01 * n)))) ++taken;
    take();
  }
  take_until([&] { return has_written(taken); });
  EXPECT_LE(taken, 100U);
  EXPECT_GE(taken, 50U);
  EXPECT_FALSE(recorder->submit_synced(entry("e", at_s(20)), 1))
      << "there is no room: it is refused, not lost";
  disk.write_fails = false;
  take_until([&] { return !recorder->failing(); });
  must(recorder->close(at_s(30)));
  take();
  EXPECT_EQ(written.size(), taken + 1U);
  const auto numbers = frame_numbers(replayed(file()).items);
  ASSERT_EQ(numbers.size(), taken);
  for (std::uint32_t n = 0; n < taken; ++n) EXPECT_EQ(numbers[n], n);
}

TEST_F(RecorderTest, MoreThanOneBatchIsCaughtUpWhole) {
  RecorderOptions options;
  options.retry_after = 2ms;
  start(options);
  disk.write_fails = true;
  submit_frames(0, 10'000);
  take_until([&] { return has_written(10'000); });
  disk.write_fails = false;
  must(recorder->close(at_s(500)));
  take();
  EXPECT_EQ(written.size(), 10'001U);
  const auto numbers = frame_numbers(replayed(file()).items);
  ASSERT_EQ(numbers.size(), 10'000U);
  for (std::uint32_t n = 0; n < 10'000; ++n) ASSERT_EQ(numbers[n], n);
  EXPECT_EQ(must(verify(path)).state, SealState::closed);
}

TEST_F(RecorderTest, AReadOnlyDiskIsLikeAFullOne) {
  RecorderOptions options;
  options.retry_after = 2ms;
  disk.refusal = EROFS;
  start(options);
  disk.write_fails = true;
  submit_frames(0, 5);
  take_until([&] { return !faults.empty() && has_written(5); });
  EXPECT_THAT(faults.front(), HasSubstr("Read-only file system; the disk is mounted read-only"));
  disk.write_fails = false;
  take_until([&] { return !recorder->failing(); });
  EXPECT_EQ(frame_numbers(replayed(file()).items).size(), 5U);
}

TEST_F(RecorderTest, AfterAFailedSyncItemsGoOnAndEntriesWaitForTheCopy) {
  RecorderOptions options;
  options.retry_after = 2ms;
  start(options);
  disk.sync_fails = true;
  disk.copy_fails = true;
  must(recorder->submit_synced(entry("e", at_s(1)), 1));
  take_until([&] { return !faults.empty(); });
  disk.sync_fails = false;  // a second fsync would say "done"
  submit_frames(0, 50);
  must(recorder->submit_synced(entry("f", at_s(2)), 2));
  take_until([&] { return has_written(52); });
  give_chance();
  EXPECT_THAT(tokens, IsEmpty());
  EXPECT_TRUE(recorder->failing());
  disk.copy_fails = false;
  take_until([&] { return tokens.size() == 2; });
  EXPECT_THAT(tokens, ElementsAre(1U, 2U));
  EXPECT_FALSE(recorder->failing());
  must(recorder->close(at_s(5)));
  EXPECT_EQ(must(verify(path)).state, SealState::closed);
}

TEST_F(RecorderTest, ClosingWritesWhatIsQueuedEndAndSealAndFreesTheLock) {
  start();
  disk.hold_writes(true);
  submit_frames(0, 9000);  // more than one write takes
  disk.hold_writes(false);
  must(recorder->close(at_s(200)));
  take();
  ASSERT_EQ(written.size(), 9001U);
  EXPECT_TRUE(std::holds_alternative<End>(written.back()));
  EXPECT_EQ(must(verify(path)).state, SealState::closed);
  EXPECT_FALSE(recorder->submit(numbered_frame(1, at_s(201))));
  EXPECT_FALSE(recorder->submit_synced(entry("late", at_s(201)), 1));
  EXPECT_FALSE(recorder->close(at_s(202)));
}

TEST_F(RecorderTest, StoppingLeavesTheJobOpenForTheNextStart) {
  start();
  submit_frames(0, 5);
  must(recorder->submit_synced(entry("e", at_s(2)), 3));
  must(recorder->stop());
  take();
  EXPECT_THAT(tokens, ElementsAre(3U));
  const auto result = must(verify(path));
  EXPECT_EQ(result.state, SealState::open);
  EXPECT_EQ(result.unsealed_bytes, 0U);
  EXPECT_TRUE(JobFile::resume(path, at_s(10)));
}

TEST_F(RecorderTest, ARecorderThatIsJustDestroyedKeepsWhatItWasGiven) {
  start();
  submit_frames(0, 100);
  recorder.reset();
  EXPECT_EQ(frame_numbers(replayed(file()).items).size(), 100U);
}

TEST_F(RecorderTest, ClosingOnAFullDiskSaysWhatIsLostAndTheJobCanBeResumed) {
  start();
  disk.write_fails = true;
  submit_frames(0, 5);
  const auto closed = recorder->close(at_s(9));
  ASSERT_FALSE(closed);
  EXPECT_THAT(closed.error().text(), HasSubstr("6 items are not in the file"));
  auto resumed = must(JobFile::resume(path, at_s(10)));
  EXPECT_FALSE(resumed.torn_bytes);
}

TEST_F(RecorderTest, LiveAndDirectRecordingGiveTheSameLinesButForSeals) {
  start();
  DirectRecorder direct(must(JobFile::create(folder / "direct.log", header())).file);
  std::vector<Item> items;
  for (std::uint32_t n = 0; n < 300; ++n) items.push_back(numbered_frame(n, at_s(1 + 0.1 * n)));
  items.insert(items.begin() + 20, entry("e", at_s(3)));
  items.insert(items.begin() + 40, Advance{at_s(5)});
  std::vector<std::string> direct_texts;
  for (const Item& item : items) {
    ASSERT_TRUE(recorder->submit(item));
    direct_texts.push_back(text_of(must(direct.record(item))));
  }
  must(recorder->close(at_s(40)));
  direct_texts.push_back(text_of(must(direct.close(at_s(40)))));
  take();
  std::vector<std::string> live_texts;
  for (const Item& item : written) live_texts.push_back(text_of(item));
  EXPECT_EQ(live_texts, direct_texts);
  const auto without_seals = [](const std::string& bytes) {
    std::string text;
    for (const auto& line : lines_of(bytes))
      if (!parse_seal(line)) text += line + '\n';
    return text;
  };
  EXPECT_EQ(without_seals(file()), without_seals(bytes_of(folder / "direct.log")));
}

TEST(DirectRecorder, GivesTheSameBytesForTheSameItems) {
  TemporaryFolder folder;
  std::vector<std::string> files;
  for (const char* name : {"a.log", "b.log"}) {
    DirectRecorder recorder(must(JobFile::create(folder / name, header())).file);
    for (std::uint32_t n = 0; n < 100; ++n) must(recorder.record(numbered_frame(n, at_s(1 + 0.1 * n))));
    must(recorder.close(at_s(20)));
    files.push_back(bytes_of(folder / name));
  }
  EXPECT_EQ(files[0], files[1]);
  EXPECT_EQ(must(verify(folder / "a.log")).state, SealState::closed);
}

TEST(DirectRecorder, HoldsNoMoreBytesForTheDiskHoweverLongTheJob) {
  TemporaryFolder folder;
  DirectRecorder recorder(must(JobFile::create(folder / "a.log", header())).file);
  constexpr std::size_t kLongestLine = 400;
  for (std::uint32_t n = 0; recorder.file().bytes() < 3 * DirectRecorder::kMaxUnsynced; ++n) {
    must(recorder.record(numbered_frame(n, at_s(1 + 0.001 * n))));
    ASSERT_LE(recorder.file().bytes() - recorder.file().synced_bytes(),
              DirectRecorder::kMaxUnsynced + kLongestLine);
  }
}

}  // namespace
}  // namespace sumplog
