#include "app/program_run.h"

namespace sumplog {
namespace {

// Whatever is wrong: one clear line that names the thing, the place and the way out; the designed exit status; no crash; no
// half-written file.

constexpr int kWrong = 2;

void expect_one_clear_line(const Ran& ran, int status, const std::string& must_hold) {
  EXPECT_EQ(ran.status, status) << ran.err;
  EXPECT_EQ(lines_in(ran.err), 1) << ran.err;
  EXPECT_TRUE(ran.err.starts_with("sumplog: ")) << ran.err;
  EXPECT_NE(ran.err.find(must_hold), std::string::npos) << ran.err;
}

TEST(BadInput, AMissingFileIsNamed) {
  expect_one_clear_line(run_program("replay /nowhere/at/all.log"), kWrong, "/nowhere/at/all.log");
}

TEST(BadInput, AFolderIsNoFile) {
  expect_one_clear_line(run_program("replay /tmp"), kWrong, "/tmp");
}

TEST(BadInput, AnEmptyFileIsRefused) {
  const ScratchFolder scratch;
  expect_one_clear_line(run_program("replay " + scratch.file("empty.log", "")), kWrong, "empty.log");
}

TEST(BadInput, ABinaryFileIsRefusedAndThePossibleFormsAreNamed) {
  const ScratchFolder scratch;
  std::string rubbish;
  for (int i = 0; i < 5000; ++i) rubbish += static_cast<char>(i * 7919 % 251);
  const Ran ran = run_program("replay " + scratch.file("rubbish.bin", rubbish));
  expect_one_clear_line(ran, kWrong, "rubbish.bin");
  EXPECT_NE(ran.err.find("candump"), std::string::npos) << ran.err;
}

TEST(BadInput, ATruncatedPcapngIsReadUpToItsTornEnd) {
  const ScratchFolder scratch;
  const std::string log = scratch.file("two.log",
                                       "(1700000000.000000) can0 7E8#0341055AAAAAAAAA\n"
                                       "(1700000000.500000) can0 7E8#0341055AAAAAAAAA\n");
  const std::string whole = (scratch / "two.pcapng").string();
  ASSERT_EQ(run_program("export " + log + " --as pcapng -o " + whole).status, 0);
  const std::string bytes = text_of_file(whole);
  const Ran ran =
      run_program("replay --json " + scratch.file("cut.pcapng", bytes.substr(0, bytes.size() - 7)));
  EXPECT_EQ(ran.status, 0);  // torn is normal after a power cut, and said
  EXPECT_EQ(lines_in(ran.err), 1) << ran.err;
  EXPECT_NE(ran.err.find("cut.pcapng"), std::string::npos) << ran.err;
}

TEST(BadInput, ALineOfOneGigabyteCostsOneLineAndBoundedMemory) {
  const ScratchFolder scratch;
  const std::string script = scratch.file(
      "long.sh",
      "ulimit -v 524288  # half a gigabyte of address space: the line itself would not fit\n"
      "{ echo '(1700000000.000000) can0 7DF#0201050000000000'\n"
      "  head -c 1000000000 /dev/zero | tr '\\0' x; echo\n"
      "  echo '(1700000000.010000) can0 7E8#0341055A00000000'; } | \"$1\" replay - --json 2>/dev/null\n");
  const std::string out = (scratch / "out").string();
  const int ended = std::system(("bash " + script + " " SUMPLOG_PROGRAM " >" + out).c_str());
  EXPECT_TRUE(WIFEXITED(ended));
  EXPECT_EQ(WEXITSTATUS(ended), kWrong);  // a corrupt middle
  const std::string journal = text_of_file(out);
  EXPECT_NE(journal.find("\"why\":\"line 2 cannot be read"), std::string::npos) << journal.substr(0, 500);
  EXPECT_NE(journal.find("\"signal\":\"coolant_temperature\",\"value\":50"), std::string::npos);
}

TEST(BadInput, ACorruptMiddleIsSaidWithItsLineAndTheRestIsUsed) {
  const ScratchFolder scratch;
  const std::string log = scratch.file("middle.log",
                                       "(1700000000.000000) can0 7DF#0201050000000000\n"
                                       "(1700000000.000000) can0 7E8#034105ZZ00000000\n"
                                       "(1700000000.010000) can0 7E8#0341055A00000000\n");
  const Ran ran = run_program("replay --json " + log);
  expect_one_clear_line(ran, kWrong, "middle.log:2");
  EXPECT_NE(ran.out.find("coolant_temperature"), std::string::npos);
}

TEST(BadInput, ADecoderWithAMistakeIsRefusedWithItsLine) {
  const ScratchFolder scratch;
  fs::create_directory(scratch / "wrong");
  std::ofstream(scratch / "wrong/signals.toml") << "format = 1\nid = \"wrong\"\ntitle = \"x\"\nscael = 2\n";
  const Ran ran = run_program("decoders check " + (scratch / "wrong").string());
  expect_one_clear_line(ran, kWrong, "signals.toml:4");
}

TEST(BadInput, AnUnknownDecoderIsRefusedAndTheKnownOnesAreNamed) {
  const ScratchFolder scratch;
  const Ran ran = run_program("replay --decoder nothing " + scratch.file("a.log", "(1.0) can0 7E8#00\n"));
  expect_one_clear_line(ran, kWrong, "demo-9");
}

TEST(BadInput, AWindowThatIsNoneIsRefusedWithThePlaceItCameFrom) {
  const ScratchFolder scratch;
  const std::string log = scratch.file("a.log", "(1.0) can0 7E8#00\n");
  expect_one_clear_line(run_program("replay --window 45:35 " + log), kWrong, "--window");
  expect_one_clear_line(run_program("replay " + log, "SUMPLOG_WINDOW=45:35"), kWrong, "SUMPLOG_WINDOW");
  const std::string config = scratch.file("sumplog.toml", "\nwindow = \"45:35\"\n");
  expect_one_clear_line(run_program("replay --config " + config + " " + log), kWrong, "sumplog.toml:2");
}

TEST(BadInput, AnUnknownKeyOfTheConfigurationIsRefusedWithItsLine) {
  const ScratchFolder scratch;
  const std::string config = scratch.file("sumplog.toml", "window = \"35:45\"\nwindwo = 1\n");
  expect_one_clear_line(run_program("replay --config " + config + " x.log"), kWrong, "sumplog.toml:2");
}

TEST(BadInput, AConfigurationWithALineOfDotsIsRefusedAndDoesNotEndTheProgram) {
  // The TOML library recurses once for each dot: this line overflowed its stack.
  const ScratchFolder scratch;
  std::string key = "a";
  for (int i = 0; i < 100000; ++i) key += ".a";
  const std::string config = scratch.file("sumplog.toml", "window = \"35:45\"\n" + key + " = 1\n");
  expect_one_clear_line(run_program("replay --config " + config + " x.log"), kWrong, "sumplog.toml:2");
}

TEST(BadInput, AnUnknownSettingOfTheEnvironmentIsRefused) {
  expect_one_clear_line(run_program("replay x.log", "SUMPLOG_WINDOWS=1:2"), kWrong, "SUMPLOG_WINDOWS");
}

TEST(BadInput, AnUnknownCommandOrOptionIsACallThatIsWrong) {
  EXPECT_EQ(run_program("repaly x.log").status, kWrong);
  EXPECT_EQ(run_program("replay x.log --nonsense").status, kWrong);
  EXPECT_EQ(run_program("").status, kWrong);
  EXPECT_EQ(run_program("export a.log --as tables").status, kWrong);
}

TEST(BadInput, WithoutABusThereIsNoJobFile) {
  const ScratchFolder scratch;
  const std::string data = (scratch / "data").string();
  // An unknown interface, or, where the kernel has no CAN at all, that.
  const Ran ran = run_program("serve --interface nonesuch0 --decoder demo-9 --data " + data);
  expect_one_clear_line(ran, kWrong, "nonesuch0");
  EXPECT_FALSE(fs::exists(data));
  expect_one_clear_line(run_program("serve --listen off --data " + data), kWrong, "--interface");
}

TEST(BadInput, AnExportNeverWritesOverAFile) {
  const ScratchFolder scratch;
  const std::string log = scratch.file("a.log", "(1.0) can0 7E8#00\n");
  const std::string there = scratch.file("there.asc", "precious");
  expect_one_clear_line(run_program("export " + log + " --as asc -o " + there), kWrong, "there.asc");
  EXPECT_EQ(text_of_file(there), "precious");
}

TEST(BadInput, AJobFileThatIsNoneIsRefusedByVerify) {
  const ScratchFolder scratch;
  expect_one_clear_line(run_program("verify " + scratch.file("a.log", "(1.0) can0 7E8#00\n")), kWrong,
                        "a.log");
}

}  // namespace
}  // namespace sumplog
