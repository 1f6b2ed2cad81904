#include "io/tar_file.h"

#include <gtest/gtest.h>
#include <malloc.h>

namespace sumplog {
namespace {

constexpr std::size_t kArchives = 200;
constexpr std::size_t kMember = 100000;  // bytes; more than libarchive holds back before it writes

/// Bytes in use. Under a checker of memory it stays 0, and the checker counts.
std::size_t in_use() {
  return mallinfo2().uordblks;
}

/// What `work` leaves behind in kArchives rounds, after one that fills whatever is kept for good.
template <class Work>
std::size_t left_behind(Work work) {
  work();
  const std::size_t before = in_use();
  for (std::size_t i = 0; i < kArchives; ++i) work();
  const std::size_t after = in_use();
  return after > before ? after - before : 0;
}

// Each archive that was compared and found changed, or whose disk was full, left 10 kB: libarchive's buffer.
TEST(TarWriter, AnArchiveWhoseSinkFailsLeavesNoMemoryBehind) {
  const std::string content(kMember, 'x');
  const std::size_t left = left_behind([&] {
    TarWriter tar([](std::string_view) -> Result<void> { return fault("nobody listens any more"); });
    ASSERT_TRUE(tar.begin({"job.log", kMember, {}}));
    EXPECT_FALSE(tar.write(content));
  });
  EXPECT_LT(left, kArchives * 100);
}

TEST(TarWriter, AnArchiveThatIsGivenUpLeavesNoMemoryBehindAndWritesNoMore) {
  std::size_t given_up_at = 0;
  std::size_t taken = 0;
  const std::size_t left = left_behind([&] {
    {
      TarWriter tar([&](std::string_view bytes) -> Result<void> {
        taken += bytes.size();
        return {};
      });
      ASSERT_TRUE(tar.begin({"job.log", std::uint64_t{1} << 32, {}}));
      ASSERT_TRUE(tar.write("the first bytes of 4 GiB"));
      given_up_at = taken;
    }
    EXPECT_EQ(taken, given_up_at);
  });
  EXPECT_LT(left, kArchives * 100);
}

}  // namespace
}  // namespace sumplog
