#include <gmock/gmock.h>
#include <pty.h>
#include <unistd.h>

#include "app/program_run.h"

namespace sumplog {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;

const std::string kSweep = "learn ";
const std::string kNamed = kSweep + "--interface nowhere9 --ask 7E1:1A00-1AFF ";

TEST(SweepCommand, WithoutAnInterfaceOrIdentifiersItSaysWhatIsMissing) {
  const Ran no_interface = run_program(kSweep + "--ask 7E1:1A00-1AFF --agreed-by K.");
  EXPECT_EQ(no_interface.status, 2);
  EXPECT_THAT(no_interface.err, HasSubstr("--interface: no interface is named; for example: "));
  const Ran no_identifiers = run_program(kSweep + "--interface nowhere9 --agreed-by K.");
  EXPECT_EQ(no_identifiers.status, 2);
  EXPECT_THAT(no_identifiers.err, HasSubstr("--ask: no identifiers are named; for example 7E1:1A00-1AFF"));
}

TEST(SweepCommand, ARangeThatIsNoneIsNamed) {
  const Ran ran =
      run_program(kSweep + "--interface nowhere9 --ask 7E1:1A00-1AFF --ask 7E8:00-FF --agreed-by K.");
  EXPECT_EQ(ran.status, 2);
  EXPECT_THAT(ran.err, HasSubstr("--ask: '7E8:00-FF' names 7E8, on which no single unit is asked"));
}

TEST(SweepCommand, WithoutATerminalAndWithoutANameNobodyHasAgreed) {
  const Ran ran = run_program(kNamed);
  EXPECT_EQ(ran.status, 2);
  EXPECT_THAT(ran.err,
              HasSubstr("--agreed-by: nobody has agreed to it; name who has, or start it on a terminal"));
}

TEST(SweepCommand, AnInterfaceThatIsNotThereEndsItBeforeThereIsAJob) {
  const ScratchFolder scratch;
  const Ran ran = run_program(kNamed + "--agreed-by K. --data " + (scratch / "jobs").string());
  EXPECT_EQ(ran.status, 2);
  EXPECT_THAT(ran.err, HasSubstr("nowhere9"));
  EXPECT_FALSE(fs::exists(scratch / "jobs"));
}

/// Runs it on a terminal on which somebody types; what it showed.
std::string typed(const std::string& lines) {
  int terminal = -1;
  const pid_t child = forkpty(&terminal, nullptr, nullptr, nullptr);
  if (child == 0) {
    execl(SUMPLOG_PROGRAM, SUMPLOG_PROGRAM, "learn", "--interface", "nowhere9", "--ask", "7E1:1A00-1AFF",
          static_cast<char*>(nullptr));
    _exit(127);
  }
  EXPECT_EQ(write(terminal, lines.data(), lines.size()), static_cast<ssize_t>(lines.size()));
  std::string shown;
  char block[4096];
  for (ssize_t got = 0; (got = read(terminal, block, sizeof block)) > 0;)
    shown.append(block, static_cast<std::size_t>(got));
  int ended = 0;
  waitpid(child, &ended, 0);
  close(terminal);
  return shown;
}

TEST(SweepCommand, OnATerminalTheCautionsAreShownAndTheSentenceIsTyped) {
  const std::string shown = typed("the car stands and somebody stays with it\nK. Example\n");
  EXPECT_THAT(shown, HasSubstr("The car stands, selector in P or N"));
  EXPECT_THAT(shown, HasSubstr("Your name: "));
  EXPECT_THAT(shown, HasSubstr("nowhere9")) << "it went on to the bus";
}

TEST(SweepCommand, AnotherSentenceOrNoNameIsNoConsent) {
  const std::string other = typed("yes\nK. Example\n");
  EXPECT_THAT(other, HasSubstr("that is not the sentence; nothing was asked"));
  EXPECT_THAT(other, Not(HasSubstr("Your name")));
  EXPECT_THAT(typed("the car stands and somebody stays with it\n\n"),
              HasSubstr("a name is needed; nothing was asked"));
}

}  // namespace
}  // namespace sumplog
