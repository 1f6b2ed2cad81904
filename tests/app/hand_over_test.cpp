#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>
#include <random>

#include "program_run.h"

namespace sumplog {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;

// Archive, verify and redacted copy, by the built program.

constexpr unsigned kSeed = 20260303;  // of the random changes

class HandOverTest : public ::testing::Test {
 protected:
  void SetUp() override {
    ASSERT_EQ(run_program("demo --once --data " + (scratch / "data").string()).status, 0);
    job = fs::directory_iterator(scratch / "data")->path().string();
    const auto verified = nlohmann::json::parse(run_program("verify --json " + job).out);
    fingerprint = verified["fingerprint"];
    archive = (scratch / "job.tar").string();
    ASSERT_EQ(run_program("export " + job + " --as archive --to " + archive).status, 0);
  }
  ScratchFolder scratch;
  std::string job;
  std::string archive;
  std::string fingerprint;
};

TEST_F(HandOverTest, AnArchiveIsWholeByItselfAndAgainstTheFingerprintOnTheSheet) {
  EXPECT_EQ(run_program("verify " + archive).status, 0);
  std::string typed = fingerprint;
  for (std::size_t at = 60; at > 0; at -= 4) typed.insert(at, " ");  // as a person copies it from paper
  for (char& c : typed) c = static_cast<char>(std::toupper(c));
  const Ran ran = run_program("verify " + archive + " --fingerprint \"" + typed + "\"");
  EXPECT_EQ(ran.status, 0) << ran.out << ran.err;
  EXPECT_THAT(ran.out, HasSubstr("byte for byte"));
}

TEST_F(HandOverTest, AFingerprintThatIsNoneIsAWrongCall) {
  const Ran ran = run_program("verify " + archive + " --fingerprint abc");
  EXPECT_EQ(ran.status, 2);
  EXPECT_THAT(ran.err, HasSubstr("--fingerprint: a fingerprint has 64 hex digits; this one has 3"));
}

TEST_F(HandOverTest, ChangedBytesCutsAndSwappedLinesEndWithExitStatusOne) {
  std::mt19937 random(kSeed);
  for (int i = 0; i < 45; ++i) {
    const bool in_archive = i % 2 == 0;
    std::string bytes = text_of_file(in_archive ? archive : job);
    const std::size_t at = random() % bytes.size();
    switch (i % 3) {
      case 0: bytes[at] = static_cast<char>(bytes[at] ^ 1); break;
      case 1: bytes.resize(at); break;
      default: {
        const std::size_t first = bytes.find('\n', at / 2) + 1;
        const std::size_t second = bytes.find('\n', first) + 1;
        const std::size_t third = bytes.find('\n', second) + 1;
        if (third == 0 || second == 0) continue;
        bytes = bytes.substr(0, first) + bytes.substr(second, third - second) +
                bytes.substr(first, second - first) + bytes.substr(third);
        break;
      }
    }
    const std::string changed = scratch.file("changed", bytes);
    const Ran ran = run_program("verify " + changed + " --fingerprint " + fingerprint);
    EXPECT_NE(ran.status, 0) << "change " << i << " at byte " << at << ": " << ran.out;
  }
}

TEST_F(HandOverTest, APhotoThatIsNotBesideItsJobIsMissing) {
  const std::string text = text_of_file(job);
  // An open job, as far as its first frame, with a photo entry behind it.
  const std::string with_photo = scratch.file(
      "photo.log",
      text.substr(0, text.find('\n', text.find("\n(") + 1) + 1) +
          "# {\"t\":1700000000.000000,\"item\":\"entry\",\"id\":\"p\",\"name\":\"photo\",\"fields\":"
          "{\"file\":\"pan.jpg\",\"sha256\":"
          "\"e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855\"}}\n");
  const Ran missing = run_program("verify " + with_photo);
  EXPECT_EQ(missing.status, 1);
  EXPECT_THAT(missing.out, HasSubstr("photo \"pan.jpg\" is missing"));
  const Ran exported =
      run_program("export " + with_photo + " --as archive --to " + (scratch / "p.tar").string());
  EXPECT_EQ(exported.status, 1);
  EXPECT_THAT(exported.err, HasSubstr("it is not in the archive"));
  (void)scratch.file("pan.jpg", "");  // SHA-256 of nothing: FIPS 180-4, as sha256sum /dev/null prints
  EXPECT_EQ(run_program("verify " + with_photo).status, 0);
}

TEST_F(HandOverTest, ARedactedCopyReplaysToTheSameReadingsAndSaysWhatItIs) {
  const std::string copy = (scratch / "copy.log").string();
  const Ran ran = run_program("jobs redact " + job + " --to " + copy);
  ASSERT_EQ(ran.status, 0) << ran.err;
  const auto thermal = [](const std::string& journal) {
    std::string lines;
    for (std::size_t at = 0; at < journal.size(); at = journal.find('\n', at) + 1) {
      const std::string line = journal.substr(at, journal.find('\n', at) + 1 - at);
      if (line.find("\"kind\":\"entry\"") == std::string::npos && line.find("\"vin\"") == std::string::npos)
        lines += line;
    }
    return lines;
  };
  const std::string before = run_program("replay --json " + job).out;
  const std::string after = run_program("replay --json " + copy).out;
  EXPECT_EQ(thermal(before), thermal(after));
  EXPECT_EQ(lines_in(before), lines_in(after));
  const std::string vin = "0TESTCAR7FAKE0001";
  EXPECT_THAT(before, HasSubstr(vin));
  EXPECT_THAT(after, Not(HasSubstr(vin)));
  EXPECT_THAT(text_of_file(copy), Not(HasSubstr(fingerprint)));
  EXPECT_THAT(text_of_file(copy), Not(HasSubstr(fs::path(job).filename().string().substr(16, 8))));

  const auto verified = nlohmann::json::parse(run_program("verify --json " + copy).out);
  EXPECT_EQ(verified["state"], "closed");
  EXPECT_EQ(verified["redacted"], true);
  EXPECT_THAT(run_program("verify " + copy).out, HasSubstr("a redacted copy"));
  EXPECT_EQ(run_program("verify " + copy + " --fingerprint " + fingerprint).status, 1);
}

TEST_F(HandOverTest, ARedactedCopyIsNamedByItsOwnIdAndWritesOverNothing) {
  fs::create_directory(scratch / "out");
  ASSERT_EQ(run_program("jobs redact " + job + " --to " + (scratch / "out").string()).status, 0);
  const fs::path copy = fs::directory_iterator(scratch / "out")->path();
  EXPECT_EQ(copy.filename().string().size(), fs::path(job).filename().string().size());
  EXPECT_NE(copy.filename(), fs::path(job).filename());
  const Ran again = run_program("jobs redact " + job + " --to " + copy.string());
  EXPECT_EQ(again.status, 2);
  EXPECT_THAT(again.err, HasSubstr("exists already"));
  EXPECT_EQ(run_program("jobs redact " + archive + " --to " + (scratch / "x").string()).status, 2);
}

}  // namespace
}  // namespace sumplog
