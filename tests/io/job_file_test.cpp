#include "io/job_file.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cerrno>

#include "io/verify.h"
#include "temporary_folder.h"

namespace sumplog {
namespace {

using namespace sumplog::test;
using ::testing::ElementsAre;
using ::testing::HasSubstr;

class JobFileTest : public ::testing::Test {
 protected:
  JobFile create(DiskCalls calls = {}) {
    return must(JobFile::create(path, header(), std::move(calls))).file;
  }
  std::string file() const { return bytes_of(path); }
  TemporaryFolder folder;
  std::string path = folder / "job.log";
};

// --- creating ---

TEST_F(JobFileTest, ANewJobHoldsItsHeaderAndNothingElseLiesBesideIt) {
  const auto created = must(JobFile::create(path, header()));
  const auto lines = lines_of(file());
  EXPECT_EQ(lines.front(), "# sumplog-job 1");
  EXPECT_EQ(file().back(), '\n');
  for (const auto& line : lines) EXPECT_LE(line.size(), kMaxItemLine);
  EXPECT_THAT(folder.names(), ElementsAre("job.log"));
  ASSERT_EQ(created.header.size(), 2U);
  EXPECT_EQ(std::get<DecoderText>(created.header[1]).text, std::get<DecoderText>(header()[1]).text);
  EXPECT_EQ(created.file.synced_bytes(), file().size());
}

TEST_F(JobFileTest, ANewJobMakesItsFolder) {
  const std::string deep = folder / "2023/11/job.log";
  EXPECT_TRUE(JobFile::create(deep, header()));
  EXPECT_TRUE(std::filesystem::exists(deep));
}

TEST_F(JobFileTest, ANewJobNeverTakesTheNameOfAnotherFile) {
  put_bytes(path, "precious");
  const auto made = JobFile::create(path, header());
  ASSERT_FALSE(made);
  EXPECT_THAT(made.error().text(),
              HasSubstr("job.log: cannot give the file its name: File exists; take another name"));
  EXPECT_EQ(file(), "precious");
  EXPECT_THAT(folder.names(), ElementsAre("job.log"));
}

TEST_F(JobFileTest, ADiskThatFailsWhileAJobIsMadeLeavesNoHalfMadeJob) {
  std::vector<DiskCalls> failing(3);
  failing[0].write = [](int fd, const void* bytes, std::size_t) {
    return ::write(fd, bytes, 10) == 10 ? (errno = ENOSPC, -1) : -1;
  };
  failing[1].sync_all = [](int) { return errno = EIO, -1; };
  failing[2].sync_all = [](int fd) {
    struct stat status {};
    ::fstat(fd, &status);
    return S_ISDIR(status.st_mode) ? (errno = EIO, -1) : ::fsync(fd);
  };
  for (auto& calls : failing) {
    EXPECT_FALSE(JobFile::create(path, header(), calls));
    EXPECT_THAT(folder.names(), ElementsAre());
  }
}

TEST_F(JobFileTest, WhatAKilledProgramLeftHalfMadeIsRemovedWithTheNextJob) {
  put_bytes(folder / ".old.log.unfinished", "# sumplog-j");
  put_bytes(folder / ".photo.jpg", "not ours");
  create();
  EXPECT_THAT(folder.names(), ::testing::UnorderedElementsAre("job.log", ".photo.jpg"));
}

TEST_F(JobFileTest, AnItemThatDoesNotReadBackIsRefusedAndNothingIsWritten) {
  auto job = create();
  const std::string before = file();
  EXPECT_FALSE(
      job.append(std::vector<Item>{entry("1", at_s(1)), Entry{at_s(1), "2", "note", "{\"no\": json"}}));
  EXPECT_FALSE(job.append(std::vector<Item>{Entry{at_s(1), "3", "note", "{\n}"}}));
  EXPECT_EQ(file(), before);
  EXPECT_TRUE(job.append(std::vector<Item>{entry("4", at_s(1))}));
  EXPECT_EQ(replayed(file()).unreadable, 0U);
}

TEST_F(JobFileTest, WhatComesBackIsWhatTheLinesSayNotWhatWasGiven) {
  auto job = create();
  const auto written =
      must(job.append(std::vector<Item>{Entry{at_s(1), "a\xFF", "note", "{ \"v\" : 1.50 }"}}));
  ASSERT_EQ(written.size(), 1U);
  EXPECT_EQ(std::get<Entry>(written[0]).id, "a\xEF\xBF\xBD");
  EXPECT_EQ(text_of(written[0]), replayed(file()).texts.back());
}

// --- seals ---

TEST_F(JobFileTest, ASealStandsBeforeTheFirstItemOfAnotherSecondAndCarriesTheTimeOfTheItemBeforeIt) {
  auto job = create();
  const auto frame = [](std::uint32_t n, double s) { return Item{numbered_frame(n, at_s(s))}; };
  must(job.append(std::vector<Item>{frame(1, 0.2), frame(2, 0.9), frame(3, 1.0), frame(4, 7.5)}));
  std::vector<std::string> kinds;
  std::uint64_t offset = 0;
  for (const auto& line : lines_of(file())) {
    if (const auto seal = parse_seal(line)) {
      Sha256 hash;
      hash.update(file().substr(0, offset));
      EXPECT_EQ(seal->bytes, offset);
      EXPECT_EQ(seal->sha256, hash.hex());
      kinds.push_back("seal " + std::to_string(micros(seal->at) - micros(at_s(0))));
    } else if (line.front() == '(') {
      kinds.push_back("frame");
    }
    offset += line.size() + 1;
  }
  EXPECT_THAT(kinds, ElementsAre("frame", "frame", "seal 900000", "frame", "seal 1000000", "frame"));
}

TEST_F(JobFileTest, AnItemThatIsLateDoesNotBringASealOfItsOwn) {
  auto job = create();
  std::vector<Item> items;
  for (std::uint32_t n = 0; n < 10; ++n)
    items.push_back(numbered_frame(n, at_s(n % 2 == 0 ? 2.000001 : 1.999999)));
  must(job.append(items));
  std::size_t seals = 0;
  for (const auto& line : lines_of(file())) seals += parse_seal(line) ? 1 : 0;
  EXPECT_EQ(seals, 1U);
  EXPECT_EQ(must(verify(path)).state, SealState::open);
}

TEST_F(JobFileTest, EndIsSealedInTheSameWrite) {
  int writes = 0;
  DiskCalls calls;
  calls.write = [&](int fd, const void* bytes, std::size_t n) { return ++writes, ::write(fd, bytes, n); };
  auto job = create(calls);
  writes = 0;
  must(job.append(std::vector<Item>{End{at_s(5)}}));
  EXPECT_EQ(writes, 1);
  EXPECT_EQ(must(verify(path)).state, SealState::closed);
}

// --- one writer ---

TEST_F(JobFileTest, AJobThatAnotherProcessHoldsCannotBeResumed) {
  const auto job = create();
  const auto second = JobFile::resume(path, at_s(9));
  ASSERT_FALSE(second);
  EXPECT_EQ(second.error().text(), path +
                                       ": another sumplog holds this job; stop it, or give the entry to it: "
                                       "a running `serve` takes entries");
}

TEST_F(JobFileTest, TheLockOfAnotherProcessEndsWithIt) {
  { create(); }
  int ready[2];
  ASSERT_EQ(::pipe(ready), 0);
  const pid_t child = ::fork();
  if (child == 0) {
    const auto held = JobFile::resume(path, at_s(9));
    const char result = held ? 'y' : 'n';
    (void)!::write(ready[1], &result, 1);
    ::pause();
  }
  char result = 0;
  ASSERT_EQ(::read(ready[0], &result, 1), 1);
  EXPECT_EQ(result, 'y');
  EXPECT_FALSE(JobFile::resume(path, at_s(9)));
  ::kill(child, SIGKILL);
  ::waitpid(child, nullptr, 0);
  EXPECT_TRUE(JobFile::resume(path, at_s(9)));
  ::close(ready[0]);
  ::close(ready[1]);
}

// --- resuming ---

TEST_F(JobFileTest, AResumedJobGoesOnWhereItStopped) {
  must(create().append(std::vector<Item>{numbered_frame(1, at_s(1))}));
  {
    auto resumed = must(JobFile::resume(path, at_s(9)));
    EXPECT_FALSE(resumed.torn_bytes);
    EXPECT_FALSE(resumed.changed);
    must(
        resumed.file.append(std::vector<Item>{Resume{at_s(9)}, numbered_frame(2, at_s(9.5)), End{at_s(10)}}));
  }
  EXPECT_EQ(must(verify(path)).state, SealState::closed);
  EXPECT_THAT(frame_numbers(replayed(file()).items), ElementsAre(1, 2));
}

TEST_F(JobFileTest, AClosedJobCannotBeResumed) {
  must(create().append(std::vector<Item>{End{at_s(1)}}));
  const std::string before = file();
  const auto resumed = JobFile::resume(path, at_s(9));
  ASSERT_FALSE(resumed);
  EXPECT_EQ(resumed.error().text(),
            path + ": this job is closed; nothing can be added to it; start a new job");
  EXPECT_EQ(file(), before);
}

TEST_F(JobFileTest, AClosedJobThatWasChangedIsNotTouched) {
  must(create().append(std::vector<Item>{numbered_frame(1, at_s(1)), End{at_s(3)}}));
  std::string changed = file();
  changed[changed.find("7E9#A5") + 4] = 'B';
  put_bytes(path, changed);
  EXPECT_FALSE(JobFile::resume(path, at_s(9)));
  EXPECT_EQ(file(), changed);
}

TEST_F(JobFileTest, WhatIsNoJobFileCannotBeResumed) {
  for (const std::string_view bytes :
       {"", "\n", "(1.0) can0 7E8#00\n", "# sumplog-job 2\n", "# sumplog-job 1"}) {
    put_bytes(path, bytes);
    const auto resumed = JobFile::resume(path, at_s(9));
    ASSERT_FALSE(resumed) << bytes;
    EXPECT_THAT(resumed.error().text(), HasSubstr("not a job file"));
    EXPECT_EQ(file(), bytes);
  }
  EXPECT_THAT(JobFile::resume(folder / "none.log", at_s(9)).error().text(), HasSubstr("No such file"));
  EXPECT_FALSE(JobFile::resume(folder.text(), at_s(9)));
}

TEST_F(JobFileTest, AJobWithABadSealCanGoOnAndStaysMarked) {
  must(create().append(std::vector<Item>{numbered_frame(1, at_s(1)), numbered_frame(2, at_s(3))}));
  std::string changed = file();
  changed[changed.find("7E9#A5") + 4] = 'B';
  put_bytes(path, changed);
  {
    auto resumed = must(JobFile::resume(path, at_s(9)));
    EXPECT_TRUE(resumed.changed);
    must(resumed.file.append(std::vector<Item>{Resume{at_s(9)}, End{at_s(10)}}));
  }
  EXPECT_EQ(must(verify(path)).state, SealState::changed);
}

// --- disks that fail ---

/// write() takes `room` bytes more, then fails with `error`.
struct SmallDisk {
  std::size_t room = SIZE_MAX;
  int error = ENOSPC;
  bool cut_fails = false;
  DiskCalls calls() {
    DiskCalls result;
    result.write = [this](int fd, const void* bytes, std::size_t n) -> ssize_t {
      if (room == 0) return errno = error, -1;
      const ssize_t count = ::write(fd, bytes, std::min(n, room));
      if (room != SIZE_MAX) room -= static_cast<std::size_t>(count);
      return count;
    };
    result.truncate = [this](int fd, off_t n) { return cut_fails ? (errno = EIO, -1) : ::ftruncate(fd, n); };
    return result;
  }
};

TEST_F(JobFileTest, AFullDiskLeavesNoHalfLineAndTheJobGoesOnWhenThereIsRoom) {
  for (const int error : {ENOSPC, EIO, EDQUOT, EFBIG}) {
    SCOPED_TRACE(error);
    std::filesystem::remove(path);
    SmallDisk disk;
    disk.error = error;
    auto job = create(disk.calls());
    must(job.append(std::vector<Item>{numbered_frame(1, at_s(1))}));
    const std::string before = file();
    for (const std::size_t room : {0U, 1U, 30U, 60U}) {
      disk.room = room;
      const auto failed =
          job.append(std::vector<Item>{numbered_frame(2, at_s(1.1)), numbered_frame(3, at_s(1.2))});
      ASSERT_FALSE(failed);
      EXPECT_THAT(failed.error().text(), HasSubstr("job.log: cannot write: "));
      EXPECT_EQ(file(), before);
    }
    disk.room = SIZE_MAX;
    must(job.append(std::vector<Item>{numbered_frame(4, at_s(1.3)), End{at_s(2)}}));
    EXPECT_EQ(must(verify(path)).state, SealState::closed);
    EXPECT_THAT(frame_numbers(replayed(file()).items), ElementsAre(1, 4));
  }
}

TEST_F(JobFileTest, AHalfLineThatCannotBeCutAtOnceIsCutBeforeTheNextWrite) {
  SmallDisk disk;
  auto job = create(disk.calls());
  disk.room = 30;
  disk.cut_fails = true;
  EXPECT_FALSE(job.append(std::vector<Item>{numbered_frame(1, at_s(1))}));
  EXPECT_NE(file().back(), '\n');
  disk.room = SIZE_MAX;
  EXPECT_FALSE(job.append(std::vector<Item>{numbered_frame(2, at_s(1))}));
  disk.cut_fails = false;
  must(job.append(std::vector<Item>{numbered_frame(3, at_s(1)), End{at_s(2)}}));
  EXPECT_EQ(must(verify(path)).state, SealState::closed);
  EXPECT_THAT(frame_numbers(replayed(file()).items), ElementsAre(3));
}

TEST_F(JobFileTest, ShortAndInterruptedWritesAreGoneOnWith) {
  int call = 0;
  DiskCalls calls;
  calls.write = [&](int fd, const void* bytes, std::size_t n) -> ssize_t {
    if (++call % 3 == 0) return errno = EINTR, -1;
    return ::write(fd, bytes, std::min<std::size_t>(n, 7));
  };
  auto job = create(calls);
  must(job.append(std::vector<Item>{numbered_frame(1, at_s(1)), numbered_frame(2, at_s(2)), End{at_s(3)}}));
  EXPECT_EQ(must(verify(path)).state, SealState::closed);
  EXPECT_GT(call, 100);
}

/// fsync fails when told, and the disk then forgets what was not synced, as a kernel may do with pages that
/// it could not write.
struct ForgetfulDisk {
  bool fails = false;
  bool copies_fail = false;
  DiskCalls calls() {
    DiskCalls result;
    result.sync_data = [this](int fd) {
      if (!std::exchange(fails, false)) return ::fdatasync(fd);
      struct stat status {};
      ::fstat(fd, &status);
      const std::string zeros(static_cast<std::size_t>(status.st_size) - synced, '\0');
      // O_APPEND makes pwrite append on Linux: cut and write instead.
      (void)!::ftruncate(fd, static_cast<off_t>(synced));
      (void)!::write(fd, zeros.data(), zeros.size());
      return errno = EIO, -1;
    };
    result.sync_all = [this](int fd) { return copies_fail ? (errno = EIO, -1) : ::fsync(fd); };
    return result;
  }
  std::size_t synced = 0;
};

TEST_F(JobFileTest, AfterAFailedSyncNothingIsSafeUntilACopyIsInPlaceAndThenNothingIsLost) {
  ForgetfulDisk disk;
  auto job = create(disk.calls());
  must(job.append(std::vector<Item>{numbered_frame(1, at_s(1))}));
  must(job.sync());
  disk.synced = job.synced_bytes();
  must(job.append(std::vector<Item>{numbered_frame(2, at_s(2)), numbered_frame(3, at_s(3))}));
  disk.fails = true;
  EXPECT_FALSE(job.sync());
  EXPECT_FALSE(job.sync()) << "the second fsync succeeds, about bytes that are gone";
  EXPECT_EQ(job.synced_bytes(), disk.synced);
  EXPECT_NE(file().find('\0'), std::string::npos);

  must(job.append(std::vector<Item>{numbered_frame(4, at_s(4))}));
  disk.copies_fail = true;
  EXPECT_FALSE(job.recover_after_failed_sync());
  EXPECT_TRUE(job.sync_failed());
  EXPECT_THAT(folder.names(), ElementsAre("job.log"));
  disk.copies_fail = false;
  must(job.recover_after_failed_sync());
  EXPECT_EQ(job.synced_bytes(), file().size());
  EXPECT_THAT(folder.names(), ElementsAre("job.log"));
  EXPECT_FALSE(JobFile::resume(path, at_s(9))) << "the lock moved with the file";

  must(job.append(std::vector<Item>{numbered_frame(5, at_s(5)), End{at_s(6)}}));
  must(job.sync());
  EXPECT_EQ(must(verify(path)).state, SealState::closed);
  EXPECT_THAT(frame_numbers(replayed(file()).items), ElementsAre(1, 2, 3, 4, 5));
}

TEST_F(JobFileTest, ADiskThatGivesBackOtherBytesThanWereSyncedDoesNotCountAsRecovered) {
  ForgetfulDisk disk;
  auto job = create(disk.calls());
  must(job.append(std::vector<Item>{numbered_frame(1, at_s(1))}));
  must(job.sync());
  disk.synced = 20;  // more is forgotten than was unsynced
  disk.fails = true;
  EXPECT_FALSE(job.sync());
  const auto recovered = job.recover_after_failed_sync();
  ASSERT_FALSE(recovered);
  EXPECT_THAT(recovered.error().text(), HasSubstr("other bytes than were synced"));
  EXPECT_TRUE(job.sync_failed());
}

TEST_F(JobFileTest, AJobFileThatIsRemovedWhileItIsRecordedComesBackWhole) {
  auto job = create();
  must(job.append(std::vector<Item>{numbered_frame(1, at_s(1))}));
  std::filesystem::remove(path);
  must(job.append(std::vector<Item>{numbered_frame(2, at_s(2))}));
  EXPECT_FALSE(job.sync());
  must(job.recover_after_failed_sync());
  EXPECT_THAT(frame_numbers(replayed(file()).items), ElementsAre(1, 2));
}

TEST_F(JobFileTest, WhatWaitsForItsSyncIsBounded) {
  DiskCalls calls;
  bool disk_works = true;
  int syncs = 0;
  calls.sync_data = [&](int fd) { return ++syncs, disk_works ? ::fdatasync(fd) : (errno = EIO, -1); };
  auto job = create(calls);
  std::vector<Item> many;
  for (std::uint32_t n = 0; n < 100'000; ++n) many.push_back(numbered_frame(n, at_s(1)));
  for (int i = 0; i < 4; ++i) must(job.append(many));
  EXPECT_GE(syncs, 1);
  EXPECT_LE(job.bytes() - job.synced_bytes(), JobFile::kMaxUnsynced);
  disk_works = false;
  bool refused = false;
  for (int i = 0; i < 4 && !refused; ++i) refused = !job.append(many);
  EXPECT_TRUE(refused);
  EXPECT_LE(job.bytes() - job.synced_bytes(), JobFile::kMaxUnsynced);
  must(job.recover_after_failed_sync());
  EXPECT_EQ(must(verify(path)).state, SealState::open);
}

}  // namespace
}  // namespace sumplog
