#include "io/capture_file.h"

#include <fcntl.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sys/stat.h>
#include <unistd.h>

#include <thread>

#include "io/direct_recorder.h"
#include "temporary_folder.h"

namespace sumplog {
namespace {

using namespace sumplog::test;
using ::testing::HasSubstr;

struct Taken {
  std::vector<Item> items;
  Ending ending;
};
Taken take_all(CaptureFile capture) {
  Taken taken;
  for (;;) {
    auto item = must(capture.next());
    if (!item) break;
    taken.items.push_back(std::move(*item));
  }
  EXPECT_FALSE(must(capture.next())) << "the end stays the end";
  taken.ending = capture.ending();
  return taken;
}

class CaptureFileTest : public ::testing::Test {
 protected:
  std::string fault_of(const std::string& name) {
    const auto opened = CaptureFile::open(name);
    return opened ? "no fault" : opened.error().text();
  }
  std::string job(std::uint32_t frames) {
    DirectRecorder recorder(must(JobFile::create(folder / "job.log", header())).file);
    for (std::uint32_t n = 0; n < frames; ++n) must(recorder.record(numbered_frame(n, at_s(1 + 0.001 * n))));
    must(recorder.close(at_s(100)));
    return folder / "job.log";
  }
  TemporaryFolder folder;
};

TEST_F(CaptureFileTest, AJobFileOfManyBlocksComesWhole) {
  auto capture = must(CaptureFile::open(job(5000)));
  EXPECT_EQ(capture.form(), CaptureForm::job_file);
  const auto taken = take_all(std::move(capture));
  EXPECT_EQ(taken.items.size(), header().size() + 5000 + 1);
  EXPECT_EQ(taken.ending.kind, EndKind::clean);
}

TEST_F(CaptureFileTest, ACaptureShorterThanOneBlockIsRecognised) {
  put_bytes(folder / "short.log", "(1700000000.000001) can0 7E8#00\n");
  auto capture = must(CaptureFile::open(folder / "short.log"));
  EXPECT_EQ(capture.form(), CaptureForm::candump);
  EXPECT_EQ(capture.place(), folder / "short.log");
  EXPECT_EQ(frame_numbers(take_all(std::move(capture)).items).size(), 1U);
}

TEST_F(CaptureFileTest, APipeThatGivesAFewBytesAtATimeIsReadLikeAFile) {
  const std::string bytes = bytes_of(job(300));
  const std::string fifo = folder / "pipe";
  ASSERT_EQ(::mkfifo(fifo.c_str(), 0600), 0);
  std::thread writer([&] {
    const int fd = ::open(fifo.c_str(), O_WRONLY);
    for (std::size_t at = 0; at < bytes.size(); at += 97)
      (void)!::write(fd, bytes.data() + at, std::min<std::size_t>(97, bytes.size() - at));
    ::close(fd);
  });
  const auto taken = take_all(must(CaptureFile::open(fifo)));
  writer.join();
  EXPECT_EQ(frame_numbers(taken.items).size(), 300U);
}

TEST_F(CaptureFileTest, StandardInputIsNamedMinus) {
  const int kept = ::dup(STDIN_FILENO);
  const FileDescriptor file(::open(job(10).c_str(), O_RDONLY));
  ASSERT_GE(::dup2(file.get(), STDIN_FILENO), 0);
  {
    auto capture = must(CaptureFile::open("-"));
    EXPECT_EQ(capture.place(), "standard input");
    EXPECT_EQ(frame_numbers(take_all(std::move(capture)).items).size(), 10U);
  }
  EXPECT_NE(::fcntl(STDIN_FILENO, F_GETFD), -1) << "standard input is not closed";
  ::dup2(kept, STDIN_FILENO);
  ::close(kept);
}

TEST_F(CaptureFileTest, StandardInputThatSomeoneLeftNonBlockingIsWaitedFor) {
  int ends[2];
  ASSERT_EQ(::pipe2(ends, O_NONBLOCK), 0);
  const int kept = ::dup(STDIN_FILENO);
  ::dup2(ends[0], STDIN_FILENO);
  std::thread writer([&] {
    std::this_thread::sleep_for(std::chrono::milliseconds(20));
    (void)!::write(ends[1], "(1.0) can0 7E8#00\n", 18);
    ::close(ends[1]);
  });
  EXPECT_EQ(take_all(must(CaptureFile::open("-"))).items.size(), 1U);
  writer.join();
  ::dup2(kept, STDIN_FILENO);
  ::close(kept);
  ::close(ends[0]);
}

TEST_F(CaptureFileTest, WhatCannotBeReadIsSaidInOneClearLine) {
  EXPECT_EQ(fault_of(folder / "none.log"),
            folder / "none.log" + ": cannot open the capture: No such file or directory; check the name");
  EXPECT_EQ(fault_of(folder.text()), folder.text() + ": is a folder, not a capture; name a file in it");
  put_bytes(folder / "empty.log", "");
  EXPECT_EQ(fault_of(folder / "empty.log"),
            folder / "empty.log" + ": is empty; name a capture that holds frames");
  put_bytes(folder / "noise", std::string("\x7F"
                                          "ELF\x02\x01\x01\0\0\0\0\0",
                                          12) +
                                  std::string(5000, '\xEE'));
  EXPECT_THAT(fault_of(folder / "noise"), HasSubstr(folder / "noise: "));
  EXPECT_THAT(fault_of(folder / "noise"), ::testing::Not(HasSubstr("\n")));
}

TEST_F(CaptureFileTest, AMissingPermissionIsSaid) {
  if (::geteuid() == 0) {
    // Root reads everything: become another user for this one call.
    put_bytes(folder / "secret.log", "(1.0) can0 7E8#00\n");
    ::chmod((folder / "secret.log").c_str(), 0);
    ::chmod(folder.text().c_str(), 0755);
    constexpr uid_t kNobody = 65534;
    ASSERT_EQ(::seteuid(kNobody), 0);
    const std::string text = fault_of(folder / "secret.log");
    ASSERT_EQ(::seteuid(0), 0);
    EXPECT_THAT(
        text,
        HasSubstr("secret.log: cannot open the capture: Permission denied; give this user the permission"));
  } else {
    put_bytes(folder / "secret.log", "(1.0) can0 7E8#00\n");
    ::chmod((folder / "secret.log").c_str(), 0);
    EXPECT_THAT(fault_of(folder / "secret.log"), HasSubstr("Permission denied"));
  }
}

}  // namespace
}  // namespace sumplog
