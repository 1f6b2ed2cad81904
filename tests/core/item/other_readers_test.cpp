#include <gtest/gtest.h>

#include <array>
#include <cstdio>
#include <filesystem>
#include <fstream>

#include "core/item/item_text.h"
#include "core/item/items.h"

namespace sumplog {
namespace {

using testing::RandomItems;

struct CloseProcess {
  void operator()(std::FILE* process) const { ::pclose(process); }
};

/// What log2asc of can-utils makes of a log.
std::string converted(const std::string& log, const std::string& name) {
  const auto path = std::filesystem::temp_directory_path() /
                    (name + std::to_string(::testing::UnitTest::GetInstance()->random_seed()) + ".log");
  std::ofstream(path, std::ios::binary) << log;
  const std::string command = "log2asc -I '" + path.string() + "' can0 can1 2>&1";
  std::unique_ptr<std::FILE, CloseProcess> process(::popen(command.c_str(), "r"));
  std::string text;
  std::array<char, 4096> block;
  while (const std::size_t n = std::fread(block.data(), 1, block.size(), process.get()))
    text.append(block.data(), n);
  std::filesystem::remove(path);
  return text;
}

// canplayer.c and log2asc.c of can-utils pass over every line that does not begin with '(', and read a line into some 400
// bytes: the rest of a longer one would be taken for a line of its own.
TEST(OtherReaders, Log2ascFindsTheSameFramesWithAndWithoutOurItemLines) {
  if (converted("", "log2asc_there").find("not found") != std::string::npos)
    GTEST_SKIP() << "log2asc is not installed: package can-utils";
  RandomItems random(77);
  std::string frames;
  std::string job = std::string(kJobFileMagic) + "\n";
  std::size_t count = 0;
  std::size_t longest = 0;
  for (int i = 0; i < 3000; ++i) {
    const Item item = random.next();
    CanFrame frame = random.frame(at_micros(1700000000000000 + i * 1000));
    frame.bus = BusName(i % 2 == 0 ? "can0" : "can1");
    if (frame.kind != FrameKind::data) continue;
    if (!std::holds_alternative<CanFrame>(item))
      for (const std::string& line : item_lines(item)) {
        job += line + "\n";
        longest = std::max(longest, line.size());
      }
    job += item_lines(frame).front() + "\n";
    frames += item_lines(frame).front() + "\n";
    ++count;
  }
  // A part ends before the escape that would not fit: at most six characters short.
  ASSERT_GE(longest + 6, kMaxItemLine) << "or the limit was not tried";
  const std::string of_frames = converted(frames, "log2asc_frames");
  const std::string of_job = converted(job, "log2asc_job");
  EXPECT_GT(of_frames.size(), count * 30);
  EXPECT_TRUE(of_job == of_frames) << "lengths " << of_job.size() << " and " << of_frames.size();
}

TEST(OtherReaders, ALineLongerThanTheLimitWouldMisleadLog2asc) {
  if (converted("", "log2asc_there").find("not found") != std::string::npos)
    GTEST_SKIP() << "log2asc is not installed: package can-utils";
  // The reason for the limit: somewhere behind byte 390 a frame in a comment is read as a frame.
  const std::string frame = "(1700000000.000000) can0 7E8#0102\n";
  std::size_t misled = 0;
  for (std::size_t length = kMaxItemLine; length < 520; length += 10)
    if (converted(frame + "# " + std::string(length - 2, ' ') + frame, "log2asc_long") !=
        converted(frame, "log2asc_short"))
      ++misled;
  EXPECT_GT(misled, 0U);
}

}  // namespace
}  // namespace sumplog
