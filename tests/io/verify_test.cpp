#include "io/verify.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <random>

#include "io/direct_recorder.h"
#include "temporary_folder.h"

namespace sumplog {
namespace {

using namespace sumplog::test;
using ::testing::HasSubstr;

constexpr unsigned kSeed = 20260101;  // of the random changes: the same ones in every run

/// A job of 12 s: frames, entries (one in several parts), a seal for every second, closed.
std::string closed_job(const std::string& path) {
  DirectRecorder recorder(must(JobFile::create(path, header())).file);
  for (std::uint32_t n = 0; n < 120; ++n) {
    const TimePoint at = at_s(0.5 + 0.1 * n);
    must(recorder.record(numbered_frame(n, at)));
    if (n % 40 == 7) must(recorder.record(entry("entry " + std::to_string(n), at)));
    if (n == 50)
      must(recorder.record(Entry{at, "long", "note", "{\"text\":\"" + std::string(1000, 'n') + "\"}"}));
  }
  must(recorder.close(at_s(12.7)));
  return bytes_of(path);
}

std::string joined(const std::vector<std::string>& lines) {
  std::string text;
  for (const auto& line : lines) text += line + '\n';
  return text;
}

class VerifyTest : public ::testing::Test {
 protected:
  Verification check(std::string_view bytes, std::string_view fingerprint = {}) {
    put_bytes(path, bytes);
    return must(verify(path, fingerprint));
  }
  /// For a job of which any byte may have changed, its first line too.
  bool is_found(std::string_view bytes) {
    put_bytes(path, bytes);
    const auto result = verify(path);
    return !result || result->state != SealState::closed;
  }
  std::size_t line_with(std::string_view text) const {
    for (std::size_t i = 0; i < lines.size(); ++i)
      if (lines[i].find(text) != std::string::npos) return i;
    throw std::runtime_error("no such line");
  }

  TemporaryFolder folder;
  std::string path = folder / "job.log";
  std::string job = closed_job(folder / "original.log");
  std::vector<std::string> lines = lines_of(job);
};

// --- the four states ---

TEST_F(VerifyTest, AClosedJobIsSealedToItsLastByte) {
  const auto result = check(job);
  EXPECT_EQ(result.state, SealState::closed);
  EXPECT_EQ(result.unsealed_bytes, 0U);
  EXPECT_EQ(result.lines, lines.size());
  EXPECT_EQ(result.sealed_line, lines.size());
  EXPECT_EQ(result.fingerprint, parse_seal(lines.back())->sha256);
  // The fingerprint is what any other program computes over the bytes before the closing seal (FIPS 180-4).
  Sha256 hash;
  hash.update(job.substr(0, job.size() - lines.back().size() - 1));
  EXPECT_EQ(result.fingerprint, hash.hex());
  EXPECT_EQ(result.text(), "closed: sealed to the last byte");
}

TEST_F(VerifyTest, AnOpenJobSaysHowManyBytesAreNotSealed) {
  const std::size_t seal = line_with("\"item\":\"seal\"");
  std::vector<std::string> open(lines.begin(), lines.begin() + static_cast<std::ptrdiff_t>(seal) + 3);
  const auto result = check(joined(open));
  EXPECT_EQ(result.state, SealState::open);
  EXPECT_EQ(result.unsealed_bytes, open[seal + 1].size() + open[seal + 2].size() + 2);
  EXPECT_EQ(result.fingerprint, parse_seal(lines[seal])->sha256);
  EXPECT_EQ(result.sealed_line, seal + 1);
}

TEST_F(VerifyTest, AJobWithoutAnySealIsOpenAndHasNoFingerprint) {
  const auto result = check("# sumplog-job 1\n" + lines[line_with("can0")] + "\n");
  EXPECT_EQ(result.state, SealState::open);
  EXPECT_EQ(result.unsealed_bytes, bytes_of(path).size());
  EXPECT_EQ(result.fingerprint, "");
}

TEST_F(VerifyTest, AFragmentAtTheEndIsTornNotChanged) {
  const std::size_t frame = line_with("0000003C");  // frame 60
  std::vector<std::string> open(lines.begin(), lines.begin() + static_cast<std::ptrdiff_t>(frame));
  const auto result = check(joined(open) + lines[frame].substr(0, 17));
  EXPECT_EQ(result.state, SealState::torn);
  EXPECT_EQ(result.fragment_bytes, 17U);
  EXPECT_GE(result.unsealed_bytes, 17U);
  EXPECT_THAT(result.text(), HasSubstr("a fragment of 17 bytes"));
}

TEST_F(VerifyTest, AChangeLiesBetweenTheLastSealThatFitsAndTheFirstThatDoesNot) {
  const std::size_t frame = line_with("0000003C");
  std::string& line = lines[frame];
  line[line.size() - 10] = line[line.size() - 10] == '0' ? '1' : '0';
  const auto result = check(joined(lines));
  ASSERT_EQ(result.state, SealState::changed);
  EXPECT_LE(result.changed->first, frame + 1);
  EXPECT_GE(result.changed->last, frame + 1);
  EXPECT_TRUE(parse_seal(lines[result.changed->first - 2]));
  EXPECT_TRUE(parse_seal(lines[result.changed->last - 1]));
  EXPECT_LE(result.changed->last - result.changed->first, 16U)
      << "one second of ten frames, and the long entry's parts";
  EXPECT_EQ(result.fingerprint, parse_seal(lines[result.changed->first - 2])->sha256);
}

TEST_F(VerifyTest, WhateverFollowsTheClosingSealIsAChange) {
  const std::string frame = lines[line_with("can0")];
  for (const std::string& more : {frame + "\n", frame.substr(0, 5), std::string("\n"), lines.back() + "\n"}) {
    const auto result = check(job + more);
    EXPECT_EQ(result.state, SealState::changed) << more;
    EXPECT_EQ(result.changed->last, lines.size() + 1);
  }
}

TEST_F(VerifyTest, NotAJobFileIsAFault) {
  for (const std::string_view bytes : {"", "# sumplog-job 1", "# sumplog-job 10\n", "(1.0) can0 7E8#00\n"}) {
    put_bytes(path, bytes);
    const auto result = verify(path);
    ASSERT_FALSE(result);
    EXPECT_THAT(result.error().text(), HasSubstr("job.log: not a job file"));
  }
  EXPECT_THAT(verify(folder / "none.log").error().text(),
              HasSubstr("none.log: cannot open the job: No such file"));
  EXPECT_THAT(verify(folder.text()).error().text(), HasSubstr("Is a directory"));
}

// --- fingerprints kept elsewhere ---

TEST_F(VerifyTest, AFingerprintKeptElsewhereIsFoundAtItsSeal) {
  const std::size_t early = line_with("\"item\":\"seal\"");
  EXPECT_EQ(check(job, parse_seal(lines[early])->sha256).expected_line, early + 1);
  EXPECT_EQ(check(job, parse_seal(lines.back())->sha256).expected_line, lines.size());
  EXPECT_EQ(check(job, std::string(64, '0')).expected_line, 0U);
}

TEST_F(VerifyTest, SomeoneWhoComputesAllSealsAnewIsFoundOnlyByTheFingerprintKeptElsewhere) {
  const std::string kept = parse_seal(lines.back())->sha256;
  std::string forged;
  for (std::string line : lines) {
    if (const auto at = line.find("#A55A0000"); at != std::string::npos) line[at + 1] = 'B';
    if (auto seal = parse_seal(line)) {
      Sha256 hash;
      hash.update(forged);
      line = seal_line(Seal{seal->at, forged.size(), hash.hex()});
    }
    forged += line + '\n';
  }
  const auto result = check(forged, kept);
  EXPECT_EQ(result.state, SealState::closed);
  EXPECT_EQ(result.expected_line, 0U);
}

// --- every change is found ---

TEST_F(VerifyTest, AThousandRandomChangesOfOneByteAreFound) {
  std::mt19937 random(kSeed);
  for (int i = 0; i < 1000; ++i) {
    std::string changed = job;
    const std::size_t at = random() % job.size();
    const char before = changed[at];
    do changed[at] = static_cast<char>(random());
    while (changed[at] == before);
    ASSERT_TRUE(is_found(changed)) << "byte " << at << " " << before << " -> " << changed[at];
  }
}

TEST_F(VerifyTest, EveryBitOfTheClosingSealsOwnLineCounts) {
  // No hash covers this line.
  for (std::size_t at = job.size() - lines.back().size() - 1; at < job.size(); ++at) {
    for (unsigned bit = 0; bit < 8; ++bit) {
      std::string changed = job;
      changed[at] = static_cast<char>(static_cast<unsigned char>(changed[at]) ^ (1U << bit));
      ASSERT_TRUE(is_found(changed)) << "byte " << at << " bit " << bit;
    }
  }
}

TEST_F(VerifyTest, AByteInTheMiddleIsAlwaysCalledAChange) {
  const std::size_t last_line = job.size() - lines.back().size() - 1;
  std::mt19937 random(kSeed + 1);
  for (int i = 0; i < 300; ++i) {
    std::string changed = job;
    const std::size_t at = lines.front().size() + 1 + random() % (last_line - lines.front().size() - 1);
    changed[at] = static_cast<char>(changed[at] ^ 1);
    const auto result = check(changed);
    // A damaged `end` line no longer says that the job is over; its seal says that it was damaged.
    ASSERT_EQ(result.state, SealState::changed) << at;
    const auto line = 1 + static_cast<std::uint64_t>(
                              std::count(job.begin(), job.begin() + static_cast<std::ptrdiff_t>(at), '\n'));
    ASSERT_LE(result.changed->first, line);
  }
}

TEST_F(VerifyTest, TwoHundredCutsAreFound) {
  std::mt19937 random(kSeed + 2);
  for (int i = 0; i < 200; ++i) {
    // One at every line's end is as likely as one in a line; the last byte is cut too.
    std::size_t length = i == 0 ? job.size() - 1 : random() % job.size();
    if (i % 2 == 1) length = job.rfind('\n', length) == std::string::npos ? 0 : job.rfind('\n', length) + 1;
    if (length == job.size()) continue;
    ASSERT_TRUE(is_found(job.substr(0, length))) << length;
  }
}

TEST_F(VerifyTest, TwoHundredSwappedDoubledAndRemovedLinesAreFound) {
  std::mt19937 random(kSeed + 3);
  const auto any = [&] { return static_cast<std::ptrdiff_t>(random() % lines.size()); };
  for (int i = 0; i < 200; ++i) {
    auto changed = lines;
    const auto line = any();
    switch (i % 4) {
      case 0: {
        const auto other = any();
        if (lines[static_cast<std::size_t>(line)] == lines[static_cast<std::size_t>(other)]) continue;
        std::swap(changed[static_cast<std::size_t>(line)], changed[static_cast<std::size_t>(other)]);
        break;
      }
      case 1: changed.insert(changed.begin() + line, lines[static_cast<std::size_t>(line)]); break;
      case 2: changed.erase(changed.begin() + line); break;
      default: changed.insert(changed.begin() + any(), lines[static_cast<std::size_t>(line)]); break;
    }
    ASSERT_TRUE(is_found(joined(changed))) << "change " << i << " at line " << line + 1;
  }
}

TEST_F(VerifyTest, EverySealThatIsDoubledOrRemovedIsFound) {
  int seals = 0;
  for (std::size_t i = 0; i < lines.size(); ++i) {
    if (!parse_seal(lines[i])) continue;
    ++seals;
    auto doubled = lines;
    doubled.insert(doubled.begin() + static_cast<std::ptrdiff_t>(i), lines[i]);
    EXPECT_EQ(check(joined(doubled)).state, SealState::changed);
    auto removed = lines;
    removed.erase(removed.begin() + static_cast<std::ptrdiff_t>(i));
    EXPECT_NE(check(joined(removed)).state, SealState::closed);
  }
  EXPECT_EQ(seals, 13);
}

TEST_F(VerifyTest, ABadSealIsForgivenOnlyAsAFragmentThatTheTornItemBehindItSpeaksOf) {
  const std::size_t at = line_with("\"item\":\"seal\"");
  const std::string before = joined({lines.begin(), lines.begin() + static_cast<std::ptrdiff_t>(at)});
  const std::string bad = lines[at].substr(0, 90);
  const auto with_torn = [&](std::uint64_t bytes) {
    return check(before + bad + '\n' + item_lines(Torn{at_s(50), bytes}).front() + '\n').state;
  };
  EXPECT_EQ(with_torn(90), SealState::open);
  EXPECT_EQ(with_torn(91), SealState::changed);
  EXPECT_EQ(check(before + bad + '\n' + lines[at + 1] + '\n').state, SealState::changed);
  EXPECT_EQ(check(before + bad + '\n').state, SealState::changed);
  EXPECT_EQ(check(before + bad).state, SealState::torn);
}

// --- robust ---

TEST_F(VerifyTest, TheSameBytesGiveTheSameShapeInWhateverPiecesTheyCome) {
  std::string odd =
      job.substr(0, job.size() / 2) + '\n' + std::string(5000, 'z') + '\n' + std::string(3000, 'y');
  for (const std::string& bytes : {job, odd}) {
    const auto shape_of = [&](const std::function<std::size_t()>& piece) {
      JobScan scan;
      for (std::size_t at = 0; at < bytes.size();) {
        const std::size_t n = std::min(piece(), bytes.size() - at);
        scan.on_bytes(std::string_view(bytes).substr(at, n));
        at += n;
      }
      scan.on_end();
      const JobShape& s = scan.shape();
      return std::to_string(s.lines) + ' ' + std::to_string(s.sealed_bytes) + ' ' +
             std::to_string(s.fragment_bytes) + ' ' + std::to_string(s.last_line_bytes) + ' ' +
             std::to_string(s.closed) + ' ' + std::to_string(s.changed.has_value()) + ' ' + scan.hash().hex();
    };
    const std::string whole = shape_of([&] { return bytes.size(); });
    EXPECT_EQ(shape_of([] { return std::size_t{1}; }), whole);
    for (unsigned seed = 0; seed < 20; ++seed) {
      std::mt19937 random(seed);
      EXPECT_EQ(shape_of([&] { return std::size_t{1} + random() % 200; }), whole);
    }
  }
}

TEST_F(VerifyTest, EntriesThatTalkAboutSealsAreNotSeals) {
  {
    auto resumed = JobFile::create(folder / "words.log", header());
    DirectRecorder recorder(std::move(must(std::move(resumed)).file));
    must(recorder.record(
        Entry{at_s(1), "seal", "seal", "{\"item\":\"seal\",\"sha256\":\"" + std::string(64, 'a') + "\"}"}));
    must(recorder.record(Entry{at_s(2.5), "\"item\":\"seal\"", "note", "{\"pan\":\"new seal\"}"}));
    must(recorder.close(at_s(3)));
  }
  EXPECT_EQ(must(verify(folder / "words.log")).state, SealState::closed);
}

}  // namespace
}  // namespace sumplog
