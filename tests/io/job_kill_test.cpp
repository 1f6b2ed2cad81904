#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <signal.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <cstdlib>
#include <iostream>
#include <random>
#include <set>

#include "io/recorder.h"
#include "io/verify.h"
#include "temporary_folder.h"

namespace sumplog {
namespace {

using namespace sumplog::test;

// A short round for every build; SUMPLOG_KILL_ROUNDS=2000 for a long one.
int rounds() {
  const char* text = std::getenv("SUMPLOG_KILL_ROUNDS");
  return text != nullptr ? std::atoi(text) : 20;
}

constexpr Recorder::Token kReady = ~Recorder::Token{0};

/// The child: records numbered frames and entries until it is killed, and tells each acknowledged entry on
/// the pipe.
[[noreturn]] void record_until_killed(const std::string& path, std::uint32_t first, bool in_pieces,
                                      int acknowledged) {
  const auto tell = [&](Recorder::Token token) {
    if (::write(acknowledged, &token, sizeof token) != sizeof token) ::_exit(5);
  };
  DiskCalls calls;
  if (in_pieces)  // many more places where a kill can cut a line than the kernel has by itself
    calls.write = [](int fd, const void* bytes, std::size_t n) {
      ::usleep(20);
      return ::write(fd, bytes, std::min<std::size_t>(n, 11));
    };
  const std::uint32_t entry_every = in_pieces ? 100 : 20;  // frames; syncs take most of the time otherwise
  const TimePoint start = at_s(10.0 + first * 0.001);
  auto resumed = JobFile::resume(path, start, calls);
  if (!resumed) ::_exit(3);
  Recorder recorder(std::move(resumed->file), [] {});
  if (!recorder.submit(Resume{start})) ::_exit(4);
  tell(kReady);
  for (std::uint32_t n = first;; ++n) {
    while (!recorder.submit(numbered_frame(n, at_s(10.0 + n * 0.001)))) (void)recorder.take_written();
    if (n % entry_every == 0)
      (void)recorder.submit_synced(entry(std::to_string(n), at_s(10.0 + n * 0.001)), n);
    (void)recorder.take_written();
    for (const auto token : recorder.take_synced()) tell(token);
    if (n % 20 == 0) ::usleep(500);
  }
}

TEST(KilledJob, LosesNothingThatWasAcknowledgedAndGoesOnEveryTime) {
  TemporaryFolder folder;
  const std::string path = folder / "job.log";
  { must(JobFile::create(path, header())); }
  std::mt19937 random(7);
  std::set<std::string> acknowledged;
  std::uint32_t next = 0;
  int torn = 0;
  for (int round = 0; round < rounds(); ++round) {
    SCOPED_TRACE("round " + std::to_string(round));
    int pipe_ends[2];
    ASSERT_EQ(::pipe(pipe_ends), 0);
    const pid_t child = ::fork();
    ASSERT_GE(child, 0);
    if (child == 0) {
      ::close(pipe_ends[0]);
      record_until_killed(path, next, round % 2 == 0, pipe_ends[1]);
    }
    ::close(pipe_ends[1]);
    Recorder::Token token = 0;
    ASSERT_EQ(::read(pipe_ends[0], &token, sizeof token), static_cast<ssize_t>(sizeof token));
    ASSERT_EQ(token, kReady);
    ::usleep(static_cast<useconds_t>(random() % 50000));
    ASSERT_EQ(::kill(child, SIGKILL), 0);
    int status = 0;
    ASSERT_EQ(::waitpid(child, &status, 0), child);
    ASSERT_TRUE(WIFSIGNALED(status)) << "the child ended by itself with " << WEXITSTATUS(status);
    while (::read(pipe_ends[0], &token, sizeof token) == sizeof token)
      acknowledged.insert(std::to_string(token));
    ::close(pipe_ends[0]);

    const auto state = must(verify(path)).state;
    ASSERT_TRUE(state == SealState::open || state == SealState::torn);
    torn += state == SealState::torn ? 1 : 0;
    const auto job = replayed(bytes_of(path));
    ASSERT_EQ(job.unreadable, 0U) << job.ending.why;
    const auto numbers = frame_numbers(job.items);
    for (std::size_t i = 0; i < numbers.size(); ++i)
      ASSERT_EQ(numbers[i], i) << "a frame is lost, doubled or cut";
    next = static_cast<std::uint32_t>(numbers.size());
    std::set<std::string> recorded;
    for (const Item& item : job.items)
      if (const auto* one = std::get_if<Entry>(&item)) recorded.insert(one->id);
    ASSERT_TRUE(std::includes(recorded.begin(), recorded.end(), acknowledged.begin(), acknowledged.end()));
  }
  auto resumed = must(JobFile::resume(path, at_s(1e5)));
  must(resumed.file.append(std::vector<Item>{Resume{at_s(1e5)}, End{at_s(1e5)}}));
  EXPECT_EQ(must(verify(path)).state, SealState::closed);
  EXPECT_THAT(folder.names(), ::testing::ElementsAre("job.log"));
  std::cout << rounds() << " kills, " << torn << " torn lines, " << next << " frames, " << acknowledged.size()
            << " acknowledged entries\n";
  EXPECT_GT(next, 0U);
  EXPECT_FALSE(acknowledged.empty());
}

}  // namespace
}  // namespace sumplog
