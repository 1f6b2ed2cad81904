#include "app/program_run.h"

namespace sumplog {
namespace {

std::string shipped() {
  return std::string(SUMPLOG_SOURCE) + "/captures/demo-9/whole-job/scenario.toml";
}

std::string last_line_with(const std::string& text, const std::string& what) {
  const std::size_t at = text.rfind(what);
  if (at == std::string::npos) return {};
  const std::size_t begin = text.rfind('\n', at) + 1;
  return text.substr(begin, text.find('\n', at) - begin);
}

TEST(SimulatedJobCommand, WritesAWholeJobThatVerifiesAndReplaysToTheSameJournal) {
  const ScratchFolder folder;
  const std::string job = (folder / "job.log").string();
  const Ran ran = run_program("simulate " + shipped() + " --json --job " + job);
  ASSERT_EQ(ran.status, 0) << ran.err;
  EXPECT_EQ(run_program("verify " + job).status, 0);
  const Ran replayed = run_program("replay " + job + " --json");
  EXPECT_EQ(replayed.status, 0) << replayed.err;
  EXPECT_TRUE(ran.out == replayed.out) << "a difference would be megabytes";
  EXPECT_NE(last_line_with(ran.out, R"("kind":"verdict")").find(R"("conditions":"kept")"), std::string::npos)
      << last_line_with(ran.out, R"("kind":"verdict")");
}

TEST(SimulatedJobCommand, TellsAPersonWhatHappenedAndWhereTheFileIs) {
  const ScratchFolder folder;
  const std::string job = (folder / "job.log").string();
  const Ran ran = run_program("simulate --scenario " + shipped() + " --job " + job);
  ASSERT_EQ(ran.status, 0) << ran.err;
  EXPECT_NE(ran.out.find("== level check: conditions kept"), std::string::npos);
  EXPECT_NE(ran.out.find("== exchange begun"), std::string::npos);
  EXPECT_NE(ran.out.find("job file: " + job), std::string::npos);
}

TEST(SimulatedJobCommand, DoesNotWriteOverAFile) {
  const ScratchFolder folder;
  const std::string job = folder.file("job.log", "something of mine\n");
  EXPECT_NE(run_program("simulate " + shipped() + " --job " + job).status, 0);
  EXPECT_EQ(text_of_file(job), "something of mine\n");
}

TEST(SimulatedJobCommand, NamesTheMistakeInAScenario) {
  const ScratchFolder folder;
  const std::string scenario = folder.file("s.toml",
                                           "format = 1\ntitle = \"t\"\nlasts_s = 10\n"
                                           "[[entry]]\nat_s = 1\nname = \"stage_begun\"\n"
                                           "fields = { stage = \"tea break\" }\n");
  const Ran ran = run_program("simulate " + scenario + " --job " + (folder / "job.log").string());
  EXPECT_EQ(ran.status, 2);
  EXPECT_NE(ran.err.find("s.toml:7: an entry about a stage must name one; known: reception"),
            std::string::npos)
      << ran.err;
  EXPECT_FALSE(fs::exists(folder / "job.log"));
}

}  // namespace
}  // namespace sumplog
