#include "io/job_archive.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <random>

#include "core/item/member_name.h"
#include "io/archive_readme.h"
#include "io/direct_recorder.h"
#include "temporary_folder.h"

namespace sumplog {
namespace {

using namespace sumplog::test;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;

constexpr unsigned kSeed = 20260202;  // of the random changes: the same ones in every run

std::string hex_of(std::string_view bytes) {
  Sha256 hash;
  hash.update(bytes);
  return hash.hex();
}

Item photo_entry(const std::string& id, const std::string& file, const std::string& sha256, TimePoint at) {
  return Entry{at, id, "photo",
               R"({"file":")" + file + R"(","sha256":")" + sha256 + R"(","type":"image/jpeg"})"};
}

class JobArchiveTest : public ::testing::Test {
 protected:
  /// A closed job of 6 s with two photos beside it.
  void make_job(const std::string& to) {
    put_bytes(folder / "drip.jpg", drip);
    put_bytes(folder / "magnet.jpg", magnet);
    DirectRecorder recorder(must(JobFile::create(to, header())).file);
    for (std::uint32_t n = 0; n < 60; ++n) {
      const TimePoint at = at_s(0.5 + 0.1 * n);
      must(recorder.record(numbered_frame(n, at)));
      if (n == 20) must(recorder.record(photo_entry("p1", "drip.jpg", hex_of(drip), at)));
      if (n == 40) must(recorder.record(photo_entry("p2", "magnet.jpg", hex_of(magnet), at)));
    }
    must(recorder.close(at_s(6.7)));
  }
  std::string archive_of(const std::string& from, ArchivedJob* told = nullptr) {
    std::string bytes;
    auto done = must(write_archive(from, [&](std::string_view more) -> Result<void> {
      bytes += more;
      return {};
    }));
    if (told != nullptr) *told = done;
    return bytes;
  }
  ArchiveVerification check(std::string_view bytes, std::string_view expected = {}) {
    put_bytes(folder / "check.tar", bytes);
    return must(verify_archive(folder / "check.tar", expected));
  }
  /// With the fingerprint that the customer's sheet prints.
  bool is_found(std::string_view bytes) {
    put_bytes(folder / "check.tar", bytes);
    const auto result = verify_archive(folder / "check.tar", fingerprint);
    return !result || !result->holds();
  }

  TemporaryFolder folder;
  std::string drip = "invented photo " + std::string(3000, '\x81');
  std::string magnet = "another invented photo " + std::string(100, '\xFE');
  std::string path = folder / "job.log";
  std::string fingerprint;
  std::string archive;
  void SetUp() override {
    make_job(path);
    fingerprint = must(verify(path)).fingerprint;
    archive = archive_of(path);
  }
};

// --- what is in it ---

TEST_F(JobArchiveTest, AnyTarProgramUnpacksTheJobItsPhotosAndTheReadme) {
  put_bytes(folder / "a.tar", archive);
  const std::string list = folder / "list";
  ASSERT_EQ(
      std::system(("cd " + folder.text() + " && mkdir out && tar -xf a.tar -C out && tar -tf a.tar >" + list)
                      .c_str()),
      0);
  const std::string name = "20231114-221320-00112233.log";
  EXPECT_THAT(lines_of(bytes_of(list)), ElementsAre("README.txt", name, "drip.jpg", "magnet.jpg"));
  EXPECT_EQ(bytes_of(folder / ("out/" + name)), bytes_of(path));
  EXPECT_EQ(bytes_of(folder / "out/drip.jpg"), drip);
  EXPECT_EQ(bytes_of(folder / "out/magnet.jpg"), magnet);
  EXPECT_EQ(bytes_of(folder / "out/README.txt"), kArchiveReadme);
}

TEST_F(JobArchiveTest, TheReadmesOwnWayToTheFingerprintGivesTheFingerprint) {
  // With the tools of any Linux system (coreutils), as README.txt says.
  ASSERT_EQ(std::system(("head -n -1 " + path + " | sha256sum >" + (folder / "sum")).c_str()), 0);
  EXPECT_EQ(bytes_of(folder / "sum").substr(0, 64), fingerprint);
}

TEST_F(JobArchiveTest, TheSameJobGivesTheSameBytesWhoeverWroteItAndWhenever) {
  TemporaryFolder elsewhere;
  for (const char* name : {"drip.jpg", "magnet.jpg"}) put_bytes(elsewhere / name, bytes_of(folder / name));
  put_bytes(elsewhere / "renamed.log", bytes_of(path));
  EXPECT_EQ(::chmod((elsewhere / "renamed.log").c_str(), 0600), 0);
  EXPECT_EQ(archive_of(elsewhere / "renamed.log"), archive);
}

TEST_F(JobArchiveTest, AWholeArchiveHolds) {
  for (const std::string& expected : {std::string(), fingerprint}) {
    const auto result = check(archive, expected);
    ASSERT_TRUE(result.job);
    EXPECT_EQ(result.job->state, SealState::closed);
    EXPECT_THAT(result.problems(), IsEmpty());
    EXPECT_TRUE(result.holds());
  }
}

TEST_F(JobArchiveTest, AnOpenJobIsArchivedAsFarAsItHasCome) {
  const std::string open = bytes_of(path).substr(0, bytes_of(path).size() / 2);
  put_bytes(folder / "open.log", open);
  ArchivedJob told;
  const auto result = check(archive_of(folder / "open.log", &told));
  EXPECT_NE(told.job.state, SealState::closed);
  ASSERT_TRUE(result.job);
  EXPECT_EQ(result.job->state, told.job.state);
  EXPECT_TRUE(result.holds());
}

// --- photos ---

TEST_F(JobArchiveTest, AMissingPhotoIsSaidWhenTheArchiveIsMadeAndWhenItIsChecked) {
  std::filesystem::remove(folder / "drip.jpg");
  ArchivedJob told;
  const auto result = check(archive_of(path, &told));
  EXPECT_EQ(told.photos.at(0).state, PhotoState::missing);
  EXPECT_EQ(told.photos.at(1).state, PhotoState::whole);
  EXPECT_THAT(result.problems(), ElementsAre("photo \"drip.jpg\" is missing"));
  EXPECT_FALSE(result.holds());
}

TEST_F(JobArchiveTest, AnAlteredPhotoIsNotThePhotoAndStaysOut) {
  put_bytes(folder / "magnet.jpg", magnet + "x");
  ArchivedJob told;
  const std::string bytes = archive_of(path, &told);
  EXPECT_EQ(told.photos.at(1).state, PhotoState::altered);
  EXPECT_THAT(check(bytes).problems(), ElementsAre("photo \"magnet.jpg\" is missing"));
}

TEST_F(JobArchiveTest, APhotoThatWasExchangedInTheArchiveIsFound) {
  std::string changed = archive;
  changed[changed.find("invented photo ")] = 'I';
  EXPECT_THAT(check(changed).problems(), ElementsAre("photo \"drip.jpg\" was altered"));
}

TEST_F(JobArchiveTest, AJobFileFromElsewhereCannotDrawOtherFilesIntoItsArchive) {
  TemporaryFolder other;
  put_bytes(other / "secret.txt", "somebody else's");
  ASSERT_EQ(::symlink((other / "secret.txt").c_str(), (folder / "link.jpg").c_str()), 0);
  const std::string hash = hex_of("somebody else's");
  const std::string hostile = folder / "hostile.log";
  DirectRecorder recorder(must(JobFile::create(hostile, header())).file);
  int id = 0;
  for (const std::string& file :
       {other / "secret.txt", "../" + other.text().substr(1 + other.text().rfind('/')) + "/secret.txt",
        std::string("link.jpg"), std::string("a\\\\b"), std::string(".")})
    must(recorder.record(photo_entry("p" + std::to_string(++id), file, hash, at_s(1))));
  must(recorder.close(at_s(2)));
  ArchivedJob told;
  const std::string bytes = archive_of(hostile, &told);
  ASSERT_EQ(told.photos.size(), 5U);
  for (const PhotoFinding& photo : told.photos) EXPECT_EQ(photo.state, PhotoState::unreadable) << photo.file;
  EXPECT_EQ(bytes.find("somebody else's"), std::string::npos);
}

// --- names in archives ---

TEST(SafeMemberName, LeadsNowhereElse) {
  for (const char* name : {"a", "a.log", "photos/a.jpg", "..a", "a..b", "\xC3\xB6lwanne 1.jpg"})
    EXPECT_TRUE(is_safe_member_name(name)) << name;
  for (const char* name :
       {"", "/a", "a/", "../a", "a/../b", "a/..", ".", "./a", "a//b", "a\\b", "a\nb", "a\x7F"})
    EXPECT_FALSE(is_safe_member_name(name)) << name;
  EXPECT_TRUE(is_safe_member_name(std::string(100, 'a')));
  EXPECT_FALSE(is_safe_member_name(std::string(101, 'a')));
}

TEST_F(JobArchiveTest, AnArchiveWithANameThatLeadsOutIsRefusedNotFollowed) {
  put_bytes(folder / "evil", "x");
  for (const std::string& how :
       {std::string("--transform s,evil,../evil, evil"), std::string("--transform s,evil,/evil, evil"),
        std::string("evil-link"), std::string("evil-folder")}) {
    const std::string made =
        "cd " + folder.text() +
        " && rm -f evil-link && ln -s /etc/passwd evil-link && mkdir -p evil-folder && tar -P -cf evil.tar " +
        how + " 2>/dev/null";
    ASSERT_EQ(std::system(made.c_str()), 0);
    const auto result = must(verify_archive(folder / "evil.tar"));
    EXPECT_FALSE(result.holds());
    EXPECT_THAT(result.damage, ::testing::AnyOf(HasSubstr("leads out"), HasSubstr("not a plain file")))
        << how;
  }
}

TEST_F(JobArchiveTest, AFileThatIsPutInIsFound) {
  put_bytes(folder / "a.tar", archive);
  put_bytes(folder / "extra.txt", "more");
  ASSERT_EQ(std::system(("cd " + folder.text() + " && tar -rf a.tar extra.txt").c_str()), 0);
  EXPECT_THAT(must(verify_archive(folder / "a.tar")).problems(),
              ElementsAre("\"extra.txt\" does not belong to the job"));
}

TEST_F(JobArchiveTest, AnArchiveThatWasPackedAnewIsSaidToBeSoWhileItsJobIsWhole) {
  put_bytes(folder / "a.tar", archive);
  ASSERT_EQ(
      std::system(("cd " + folder.text() +
                   " && mkdir out && tar -xf a.tar -C out && tar -cf b.tar --format=ustar -C out README.txt "
                   "20231114-221320-00112233.log drip.jpg magnet.jpg")
                      .c_str()),
      0);
  const auto result = must(verify_archive(folder / "b.tar", fingerprint));
  ASSERT_TRUE(result.job);
  EXPECT_TRUE(result.job->holds());
  EXPECT_EQ(result.problems().size(), 1U);
  EXPECT_FALSE(result.holds());
}

TEST_F(JobArchiveTest, WhatIsNoArchiveIsDamageOrHasNoJob) {
  EXPECT_THAT(check("").damage, HasSubstr("the archive is damaged"));
  EXPECT_FALSE(check(std::string(2000, 'x')).holds());
  EXPECT_FALSE(verify_archive(folder / "none.tar"));
  put_bytes(folder / "text.log", "no job\n");
  EXPECT_THAT(
      write_archive(folder / "text.log", [](std::string_view) -> Result<void> { return {}; }).error().text(),
      HasSubstr("text.log: not a job file"));
}

TEST_F(JobArchiveTest, ADiskThatTakesNoMoreIsTheFaultThatItIs) {
  std::size_t taken = 0;
  const auto done = write_archive(path, [&](std::string_view more) -> Result<void> {
    taken += more.size();
    if (taken > 4000) return fault("the disk is full", "there");
    return {};
  });
  ASSERT_FALSE(done);
  EXPECT_EQ(done.error().text(), "there: the disk is full");
}

// --- every change is found ---

TEST_F(JobArchiveTest, AThousandRandomChangesOfOneByteAreFound) {
  std::mt19937 random(kSeed);
  for (int i = 0; i < 1000; ++i) {
    std::string changed = archive;
    const std::size_t at = random() % archive.size();
    const char before = changed[at];
    do changed[at] = static_cast<char>(random());
    while (changed[at] == before);
    ASSERT_TRUE(is_found(changed)) << "byte " << at;
  }
}

TEST_F(JobArchiveTest, TwoHundredCutsAreFound) {
  std::mt19937 random(kSeed + 1);
  for (int i = 0; i < 200; ++i) {
    std::size_t length = i == 0 ? archive.size() - 1 : random() % archive.size();
    if (i % 2 == 1) length -= length % 512;  // at a tar block: the rest of a reader's life is easy there
    ASSERT_TRUE(is_found(archive.substr(0, length))) << length;
  }
}

TEST_F(JobArchiveTest, TwoHundredSwappedDoubledAndRemovedLinesOfTheJobAreFoundThoughTheArchiveIsWrittenAnew) {
  // The forger writes a proper archive of a changed job file: its wrapping is perfect.
  const std::vector<std::string> lines = lines_of(bytes_of(path));
  std::mt19937 random(kSeed + 2);
  const auto any = [&] { return static_cast<std::ptrdiff_t>(random() % lines.size()); };
  int tried = 0;
  for (int i = 0; tried < 200; ++i) {
    auto changed = lines;
    const auto line = any();
    const auto other = any();
    switch (i % 4) {
      case 0:
        std::swap(changed[static_cast<std::size_t>(line)], changed[static_cast<std::size_t>(other)]);
        break;
      case 1: changed.insert(changed.begin() + line, lines[static_cast<std::size_t>(line)]); break;
      case 2: changed.erase(changed.begin() + line); break;
      default: changed.insert(changed.begin() + other, lines[static_cast<std::size_t>(line)]); break;
    }
    if (changed == lines) continue;
    ++tried;
    std::string job;
    for (const auto& one : changed) job += one + '\n';
    put_bytes(folder / "forged.log", job);
    std::string forged;
    const auto written = write_archive(folder / "forged.log", [&](std::string_view more) -> Result<void> {
      forged += more;
      return {};
    });
    if (!written) continue;  // its first lines are gone: nobody can make an archive of it
    ASSERT_TRUE(is_found(forged)) << "change " << i << " at line " << line + 1;
    ASSERT_NE(check(forged).job->state, SealState::closed) << "without the fingerprint too";
  }
}

TEST_F(JobArchiveTest, AJobThatWasCutAtASealAndPackedAnewIsFoundOnlyByTheFingerprint) {
  const std::string job = bytes_of(path);
  const std::vector<std::string> lines = lines_of(job);
  std::string cut;
  int seals = 0;
  for (const std::string& line : lines) {
    cut += line + '\n';
    if (parse_seal(line) && ++seals == 5) break;
  }
  put_bytes(folder / "cut.log", cut);
  const std::string forged = archive_of(folder / "cut.log");
  const auto alone = check(forged);
  EXPECT_TRUE(alone.holds());
  EXPECT_EQ(alone.job->state, SealState::open);
  EXPECT_THAT(alone.job->proof(), HasSubstr("only with --fingerprint"));
  const auto against = check(forged, fingerprint);
  EXPECT_FALSE(against.holds());
  EXPECT_THAT(against.job->proof(), HasSubstr("not in this file"));
}

}  // namespace
}  // namespace sumplog
