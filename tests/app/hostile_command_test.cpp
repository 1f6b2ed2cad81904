#include "app/program_run.h"

namespace sumplog {
namespace {

TEST(HostileCommand, RunsASeedAndSaysThatEveryRuleHolds) {
  const Ran ran = run_program("simulate --hostile 7");
  EXPECT_EQ(ran.status, 0) << ran.out << ran.err;
  EXPECT_NE(ran.out.find("seed 7: "), std::string::npos) << ran.out;
  EXPECT_NE(ran.out.find("every rule holds"), std::string::npos) << ran.out;
}

TEST(HostileCommand, RunsARangeWithALineForEachSeed) {
  const Ran ran = run_program("simulate --hostile 1..3 --json");
  EXPECT_EQ(ran.status, 0) << ran.out << ran.err;
  EXPECT_EQ(std::count(ran.out.begin(), ran.out.end(), '\n'), 3);
}

TEST(HostileCommand, WritesAJobFileThatVerifiesAndReplays) {
  const ScratchFolder folder;
  const std::string job = (folder / "job.log").string();
  const Ran ran = run_program("simulate --hostile 12 --to " + job);
  ASSERT_EQ(ran.status, 0) << ran.out << ran.err;
  EXPECT_EQ(run_program("verify " + job).status, 0);
  const Ran replayed = run_program("replay " + job + " --json");
  EXPECT_EQ(replayed.status, 0) << replayed.err;
  EXPECT_NE(ran.out.find(std::to_string(std::count(replayed.out.begin(), replayed.out.end(), '\n')) +
                         " journal lines"),
            std::string::npos)
      << ran.out;
}

TEST(HostileCommand, RefusesWhatIsNoSeed) {
  for (const char* const words : {"x", "3..1", "1..", "-1", "1..2 --to never.log"}) {
    const Ran ran = run_program(std::string("simulate --hostile ") + words);
    EXPECT_EQ(ran.status, 2) << words;
    EXPECT_FALSE(ran.err.empty()) << words;
  }
}

TEST(HostileCommand, NeedsAScenarioOrASeed) {
  const Ran ran = run_program("simulate --to never.log");
  EXPECT_EQ(ran.status, 2);
  EXPECT_NE(ran.err.find("--hostile"), std::string::npos) << ran.err;
}

}  // namespace
}  // namespace sumplog
