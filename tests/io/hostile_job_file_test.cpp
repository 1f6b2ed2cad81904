#include <gtest/gtest.h>

#include <fstream>
#include <iterator>

#include "core/vehicle/hostile/run.h"
#include "io/direct_recorder.h"
#include "io/temporary_folder.h"
#include "io/verify.h"

namespace sumplog {
namespace {

std::string text_of_file(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(file), {}};
}

TEST(HostileJobFile, VerifiesAndReplaysToTheSameJournal) {
  std::vector<DecoderText> texts;
  for (const char* const name : {"obd-generic/signals.toml", "demo-9/signals.toml", "demo-9/service.toml",
                                 "j1939-transmission/signals.toml"})
    texts.push_back({{}, name, text_of_file(std::string(SUMPLOG_SOURCE "/decoders/") + name)});
  for (std::uint64_t seed = 101; seed <= 120; ++seed) {
    SCOPED_TRACE(seed);
    const test::TemporaryFolder folder;
    const std::string path = folder / "job.log";
    const hostile::Plan plan = hostile::make_plan(seed);
    auto created = JobFile::create(path, hostile::opening_of(plan, texts));
    ASSERT_TRUE(created) << created.error().text();
    DirectRecorder recorder(std::move(created->file));
    hostile::Job job(plan, std::move(created->header),
                     [&](const Item& item) { return recorder.record(item); });
    ASSERT_TRUE(job.run());
    auto end = recorder.close(job.now());
    ASSERT_TRUE(end) << end.error().text();
    job.on_closed(*end);

    const auto verified = verify(path);
    ASSERT_TRUE(verified) << verified.error().text();
    EXPECT_EQ(verified->state, SealState::closed) << verified->text();
    const hostile::Replayed replayed = hostile::replay(text_of_file(path));
    EXPECT_EQ(replayed.journal, job.trace().journal);
    const auto finding = hostile::judge(plan, job.trace(), replayed);
    EXPECT_FALSE(finding) << report_of(plan, job.trace(), *finding);
  }
}

}  // namespace
}  // namespace sumplog
