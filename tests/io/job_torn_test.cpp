#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "io/direct_recorder.h"
#include "io/job_file.h"
#include "io/verify.h"
#include "temporary_folder.h"

namespace sumplog {
namespace {

using namespace sumplog::test;

/// Thousands of files are made here and none has to survive a power cut.
DiskCalls without_syncs() {
  DiskCalls calls;
  calls.sync_data = [](int) { return 0; };
  calls.sync_all = [](int) { return 0; };
  return calls;
}

class TornJob : public ::testing::Test {
 protected:
  void SetUp() override {
    DirectRecorder recorder(must(JobFile::create(path, header(), without_syncs())).file);
    header_bytes = bytes_of(path).size();
    for (std::uint32_t n = 0; n < 12; ++n) {
      must(recorder.record(numbered_frame(n, at_s(0.5 + 0.25 * n))));
      if (n == 4) must(recorder.record(entry("out", at_s(1.6))));
      if (n == 9)
        must(recorder.record(
            Entry{at_s(2.8), "long", "note", "{\"text\":\"" + std::string(700, 'n') + "\"}"}));
    }
    must(recorder.close(at_s(4.5)));
    job = bytes_of(path);
  }
  TemporaryFolder folder;
  std::string path = folder / "job.log";
  std::size_t header_bytes = 0;
  std::string job;
};

/// The texts of the items whose last line is whole in these bytes: what the core had seen at the most.
std::vector<std::string> whole_items(std::string_view bytes) {
  std::vector<std::string> texts;
  ItemLineParser parser;
  for (std::size_t at = 0; at < bytes.size();) {
    const std::size_t end = bytes.find('\n', at);
    if (end == std::string_view::npos) break;
    auto parsed = parser.on_line(bytes.substr(at, end - at));
    EXPECT_EQ(parsed.problem, "");
    if (parsed.item) texts.push_back(text_of(*parsed.item));
    at = end + 1;
  }
  return texts;
}

TEST_F(TornJob, CutAtAnyByteItIsMendedAndGoesOnAndNoFragmentEverCountsAsAnItem) {
  int torn_jobs = 0;
  int closed_jobs = 0;
  for (std::size_t length = header_bytes; length <= job.size(); ++length) {
    SCOPED_TRACE("cut at byte " + std::to_string(length));
    const std::string cut = job.substr(0, length);
    put_bytes(path, cut);
    auto expected = whole_items(cut);
    auto resumed = JobFile::resume(path, at_s(100), without_syncs());
    ASSERT_TRUE(bytes_of(path).starts_with(cut)) << "nothing is ever taken away";

    if (!resumed) {
      // Its end was recorded: then only its closing is finished.
      ++closed_jobs;
      ASSERT_EQ(expected.back(), text_of(End{at_s(4.5)}));
      ASSERT_EQ(must(verify(path)).state, SealState::closed);
      const auto again = replayed(bytes_of(path));
      ASSERT_EQ(again.unreadable, 0U);
      ASSERT_TRUE(std::equal(expected.begin(), expected.end(), again.texts.begin()));
      continue;
    }
    const std::size_t newline = cut.rfind('\n');
    const std::size_t fragment = length - newline - 1;
    ASSERT_EQ(resumed->torn_bytes.value_or(0), fragment);
    const auto after = replayed(bytes_of(path));
    if (after.texts.size() > expected.size()) {
      ++torn_jobs;
      expected.push_back(after.texts.back());
      ASSERT_TRUE(std::holds_alternative<Torn>(after.items.back()));
      if (fragment > 0) {
        ASSERT_EQ(std::get<Torn>(after.items.back()).bytes, fragment);
      }
    } else {
      ASSERT_EQ(fragment, 0U) << "a fragment without a torn item";
    }
    must(resumed->file.append(
        std::vector<Item>{Resume{at_s(100)}, numbered_frame(99, at_s(101.5)), End{at_s(102)}}));
    for (const Item& item :
         {Item{Resume{at_s(100)}}, Item{numbered_frame(99, at_s(101.5))}, Item{End{at_s(102)}}})
      expected.push_back(text_of(item));
    const auto whole = replayed(bytes_of(path));
    ASSERT_EQ(whole.texts, expected);
    ASSERT_EQ(whole.ending.kind, EndKind::clean) << whole.ending.why;
    ASSERT_EQ(must(verify(path)).state, SealState::closed);
    ASSERT_EQ(folder.names().size(), 1U);
  }
  EXPECT_GT(torn_jobs, 1000);
  EXPECT_GT(closed_jobs, 100);
}

TEST_F(TornJob, ASecondFragmentIsMendedLikeTheFirst) {
  const std::string second_line = lines_of(job.substr(header_bytes)).at(1);
  put_bytes(path, job.substr(0, header_bytes + 20));
  { must(JobFile::resume(path, at_s(100))); }
  const std::string once = bytes_of(path);
  for (std::size_t n = 1; n <= second_line.size(); ++n) {
    put_bytes(path, once + second_line.substr(0, n));
    { must(JobFile::resume(path, at_s(200), without_syncs())); }
    const auto after = replayed(bytes_of(path));
    ASSERT_EQ(after.unreadable, 0U);
    ASSERT_EQ(after.items.size(), header().size() + 2);
    ASSERT_EQ(std::get<Torn>(after.items.back()).bytes, n);
  }
}

TEST_F(TornJob, ABlockOfZerosThatAPowerCutLeftIsAFragment) {
  // Some file systems show the new length of a file before its bytes: zeros (ext4(5), data=writeback).
  put_bytes(path, job.substr(0, header_bytes) + std::string(4096, '\0'));
  EXPECT_EQ(must(JobFile::resume(path, at_s(100))).torn_bytes, 4096U);
  EXPECT_EQ(replayed(bytes_of(path)).unreadable, 0U);
}

TEST_F(TornJob, WhenTheMendedCopyCannotBeMadeTheTornFileStaysAsItWas) {
  const std::string torn = job.substr(0, header_bytes + 20);
  put_bytes(path, torn);
  DiskCalls full = without_syncs();
  full.write = [](int, const void*, std::size_t) -> ssize_t { return errno = ENOSPC, -1; };
  const auto resumed = JobFile::resume(path, at_s(100), full);
  ASSERT_FALSE(resumed);
  EXPECT_THAT(resumed.error().text(), ::testing::HasSubstr("No space left on device; free some space"));
  EXPECT_EQ(bytes_of(path), torn);
  EXPECT_EQ(folder.names().size(), 1U);
}

}  // namespace
}  // namespace sumplog
