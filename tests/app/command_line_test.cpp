#include "app/program_run.h"
#include "app/program_settings.h"

namespace sumplog {
namespace {

TEST(Settings, CommandLineBeatsEnvironmentBeatsFile) {
  ProgramSettings settings;
  ASSERT_TRUE(settings.read_file("window = \"1:2\"\nmin_stay = 30\ndecoder = [\"a\", \"b\"]\n", "f.toml"));
  const char* const environment[] = {"SUMPLOG_WINDOW=3:4", "HOME=/x", nullptr};
  ASSERT_TRUE(settings.read_environment(environment));
  EXPECT_EQ(settings.value("window"), "3:4");
  EXPECT_EQ(settings.value("min_stay"), "30");
  EXPECT_EQ(settings.value("decoder"), "a,b");
  settings.set("window", "5:6");
  EXPECT_EQ(settings.value("window"), "5:6");
  EXPECT_EQ(settings.value("interface"), std::nullopt);
}

TEST(Settings, SayWhereAValueCameFrom) {
  ProgramSettings settings;
  ASSERT_TRUE(settings.read_file("\nmin_stay = 30\n", "f.toml"));
  EXPECT_EQ(settings.place("min_stay"), "f.toml:2");
  const char* const environment[] = {"SUMPLOG_MIN_STAY=40", nullptr};
  ASSERT_TRUE(settings.read_environment(environment));
  EXPECT_EQ(settings.place("min_stay"), "SUMPLOG_MIN_STAY");
  settings.set("min_stay", "50");
  EXPECT_EQ(settings.place("min_stay"), "--min-stay");
}

TEST(Settings, AFileThatIsNoTomlIsRefusedWithItsLine) {
  ProgramSettings settings;
  const auto read = settings.read_file("window = \"1:2\"\n= 3\n", "f.toml");
  ASSERT_FALSE(read);
  EXPECT_TRUE(read.error().place.starts_with("f.toml:2")) << read.error().text();
}

/// A capture with a fluid temperature of 36 °C from the demo family's transmission.
std::string warm_capture(const ScratchFolder& scratch) {
  return scratch.file("warm.log",
                      "(1700000000.000000) can0 7E1#03221A0500000000\n"
                      "(1700000000.010000) can0 7E9#04621A054C000000\n");
}

std::string first_window(const Ran& ran) {
  const std::size_t at = ran.out.find("\"to\":\"");
  return at == std::string::npos ? "" : ran.out.substr(at + 6, ran.out.find('"', at + 6) - at - 6);
}

TEST(CommandLine, TheOrderOfSettingsHoldsInTheProgramToo) {
  const ScratchFolder scratch;
  const std::string log = warm_capture(scratch);
  const std::string config = scratch.file("c.toml", "decoder = \"demo-9\"\nwindow = \"10:20\"\n");
  EXPECT_EQ(first_window(run_program("replay --json --config " + config + " " + log)), "above");
  EXPECT_EQ(first_window(run_program("replay --json --config " + config + " " + log, "SUMPLOG_WINDOW=50:60")),
            "below");
  EXPECT_EQ(first_window(run_program("replay --json --window 35:45 --config " + config + " " + log,
                                     "SUMPLOG_WINDOW=50:60")),
            "inside");
}

TEST(CommandLine, StandardInputIsAFileLikeAnyOther) {
  const ScratchFolder scratch;
  const std::string log = warm_capture(scratch);
  const Ran from_file = run_program("replay --json --decoder demo-9 " + log);
  EXPECT_EQ(from_file.status, 0);
  EXPECT_FALSE(from_file.out.empty());
  const std::string out = (scratch / "out").string();
  ASSERT_EQ(
      std::system(("cat " + log + " | " SUMPLOG_PROGRAM " replay --json --decoder demo-9 - >" + out).c_str()),
      0);
  EXPECT_EQ(text_of_file(out), from_file.out);
}

TEST(CommandLine, HelpOfEveryCommandShowsAnExample) {
  for (const char* const command : {"replay", "serve", "demo", "simulate", "decoders", "verify", "export",
                                    "jobs", "jobs new", "jobs list", "jobs show", "jobs close", "record"}) {
    const Ran ran = run_program(std::string(command) + " --help");
    EXPECT_EQ(ran.status, 0) << command;
    EXPECT_NE(ran.out.find("Example:  sumplog " + std::string(command)), std::string::npos) << ran.out;
  }
}

TEST(CommandLine, EveryFormOfOneTrafficGivesTheSameReadings) {
  const ScratchFolder scratch;
  const std::string log = std::string(SUMPLOG_SOURCE) + "/captures/demo-9/cold-start-to-window/capture.log";
  const std::string options = "replay --json --decoder demo-9 ";
  const Ran original = run_program(options + log);
  ASSERT_EQ(original.status, 0) << original.err;
  ASSERT_GT(lines_in(original.out), 1000);
  for (const char* const form : {"candump", "pcapng", "asc"}) {
    const std::string other = (scratch / ("again." + std::string(form))).string();
    ASSERT_EQ(run_program("export " + log + " --as " + form + " -o " + other).status, 0);
    const Ran again = run_program(options + other);
    EXPECT_EQ(again.status, 0) << again.err;
    EXPECT_TRUE(again.out == original.out) << form;
  }
}

TEST(CommandLine, FramesThatAFormCannotHoldAreSaid) {
  const ScratchFolder scratch;
  const std::string log =
      scratch.file("two.log", "(1.000000) can0 7E8#01\n(4990000000.000000) can0 7E8#02\n");
  const Ran asc = run_program("export --as asc " + log);
  EXPECT_EQ(asc.status, 1);
  EXPECT_NE(asc.err.find("two.log: 1 frame is left out: its time has no place in this form"),
            std::string::npos)
      << asc.err;
  EXPECT_NE(asc.out.find("Rx   d 1 01"), std::string::npos) << asc.out;
  const Ran candump = run_program("export --as candump " + log);
  EXPECT_EQ(candump.status, 0);
  EXPECT_EQ(candump.err, "");
  EXPECT_EQ(lines_in(candump.out), 2);
}

TEST(CommandLine, AFileThatHasTheNameOfAnUnfinishedOneIsNotTouched) {
  const ScratchFolder scratch;
  const std::string log = scratch.file("one.log", "(1.000000) can0 7E8#01\n");
  const std::string foreign = scratch.file("out.asc.part", "of somebody else");
  const Ran ran = run_program("export --as asc " + log + " -o " + (scratch / "out.asc").string());
  EXPECT_EQ(ran.status, 2);
  EXPECT_NE(ran.err.find("out.asc.part: exists already"), std::string::npos) << ran.err;
  EXPECT_EQ(text_of_file(foreign), "of somebody else");
  EXPECT_FALSE(fs::exists(scratch / "out.asc"));

  const std::string data = (scratch / "data").string();
  ASSERT_EQ(run_program("jobs new --data " + data).status, 0);
  std::string job;
  for (const auto& one : fs::directory_iterator(data))
    if (one.path().extension() == ".log") job = one.path().string();
  const std::string other = scratch.file("copy.log.part", "of somebody else");
  const Ran copied = run_program("jobs redact " + job + " --to " + (scratch / "copy.log").string());
  EXPECT_NE(copied.status, 0);
  EXPECT_NE(copied.err.find("copy.log.part: exists already"), std::string::npos) << copied.err;
  EXPECT_EQ(text_of_file(other), "of somebody else");
}

TEST(CommandLine, AnIdThatAnotherEntryHasIsRefusedWithoutServeToo) {
  const ScratchFolder scratch;
  const std::string data = (scratch / "data").string();
  ASSERT_EQ(run_program("jobs new --data " + data).status, 0);
  std::string job;
  for (const auto& one : fs::directory_iterator(data))
    if (one.path().extension() == ".log") job = one.path().string();
  const Ran first = run_program("record " + job + " fluid_out litres=4 --id a --json");
  ASSERT_EQ(first.status, 0) << first.err;
  const auto before = fs::file_size(job);
  const Ran again = run_program("record " + job + " fluid_out litres=4.0 --id a --json");
  EXPECT_EQ(again.status, 0) << again.err;
  EXPECT_EQ(again.out, first.out) << "the first answer";
  const Ran other = run_program("record " + job + " fluid_out litres=5 --id a");
  EXPECT_EQ(other.status, 2);
  EXPECT_NE(other.err.find("another entry has this id already"), std::string::npos) << other.err;
  EXPECT_EQ(fs::file_size(job), before) << "nothing is written twice";
}

TEST(CommandLine, ATableOfReadingsComesOutOfAJobAndGoesInAgain) {
  const ScratchFolder scratch;
  const std::string log = std::string(SUMPLOG_SOURCE) + "/captures/demo-9/cold-start-to-window/capture.log";
  const Ran table = run_program("export --as csv --decoder demo-9 " + log);
  ASSERT_EQ(table.status, 0) << table.err;
  ASSERT_TRUE(table.out.starts_with("t_s,temp_c,rpm,speed_kmh,coolant_c\n")) << table.out.substr(0, 80);
  const std::string csv = scratch.file("table.csv", table.out);
  const Ran live = run_program("replay --json --decoder demo-9 " + log);
  const Ran again = run_program("replay --json --window 35:45 --step 1 --rounding round " + csv);
  ASSERT_EQ(again.status, 0) << again.err;
  const auto windows = [](const std::string& journal) {
    std::string lines;
    std::size_t at = 0;
    while (at < journal.size()) {
      const std::size_t end = journal.find('\n', at);
      const std::string line = journal.substr(at, end - at);
      if (line.find("\"kind\":\"window\"") != std::string::npos) lines += line + '\n';
      at = end + 1;
    }
    return lines;
  };
  EXPECT_FALSE(windows(again.out).empty());
  EXPECT_EQ(windows(again.out), windows(live.out));
}

TEST(CommandLine, TheDemoLeavesAClosedJobThatReplaysToItsJournal) {
  const ScratchFolder scratch;
  const std::string data = (scratch / "data").string();
  const Ran live = run_program("demo --once --json --data " + data);
  ASSERT_EQ(live.status, 0) << live.err;
  std::string job;
  for (const auto& entry : fs::directory_iterator(data)) job = entry.path().string();
  const Ran replayed = run_program("replay --json " + job);
  EXPECT_EQ(replayed.status, 0) << replayed.err;
  EXPECT_TRUE(replayed.out == live.out);
  EXPECT_NE(live.out.find("\"from\":\"below\",\"to\":\"inside\""), std::string::npos);
  EXPECT_NE(live.out.find("\"from\":\"inside\",\"to\":\"above\""), std::string::npos);
  const Ran verified = run_program("verify --json " + job);
  EXPECT_EQ(verified.status, 0);
  EXPECT_NE(verified.out.find("\"state\":\"closed\""), std::string::npos) << verified.out;
}

TEST(CommandLine, TextForAPersonFitsEightyColumnsButForLongWords) {
  const ScratchFolder scratch;
  const Ran ran = run_program("demo --once --data " + (scratch / "data").string());
  ASSERT_EQ(ran.status, 0);
  EXPECT_NE(ran.out.find("job file: "), std::string::npos);
  std::size_t at = 0;
  while (at < ran.out.size()) {
    const std::size_t end = ran.out.find('\n', at);
    const std::string line = ran.out.substr(at, end - at);
    const auto columns = std::count_if(line.begin(), line.end(), [](char c) { return (c & 0xC0) != 0x80; });
    if (!line.starts_with("job file: ")) {
      EXPECT_LE(columns, 80) << line;
    }
    at = end + 1;
  }
}

}  // namespace
}  // namespace sumplog
