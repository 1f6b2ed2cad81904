#include "core/capture/job_reader.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <random>

#include "core/item/items.h"

namespace sumplog {
namespace {

using testing::RandomItems;
using testing::whole;

constexpr TimePoint kAt = at_micros(1700000000000000);
const std::string kMagic = std::string(kJobFileMagic) + "\n";

struct WhatCame {
  std::vector<std::string> items;  ///< testing::whole of each
  std::vector<Item> raw;
  Ending ending;
  std::size_t unreadable = 0;
};

WhatCame read(const std::vector<std::string>& pieces) {
  const auto reader = make_job_reader();
  WhatCame came;
  const auto drain = [&] {
    while (auto item = reader->next()) {
      came.items.push_back(whole(*item));
      if (std::holds_alternative<Unreadable>(*item)) ++came.unreadable;
      came.raw.push_back(std::move(*item));
    }
  };
  for (const std::string& piece : pieces) {
    reader->on_bytes(piece);
    drain();
  }
  reader->on_end();
  drain();
  came.ending = reader->ending();
  return came;
}
WhatCame read(const std::string& text) {
  return read(std::vector<std::string>{text});
}

std::string text_of_item(const Item& item) {
  std::string text;
  for (const std::string& line : item_lines(item)) text += line + "\n";
  return text;
}
CanFrame frame(std::int64_t ms, std::uint8_t byte = 0x62) {
  return data_frame(kAt + std::chrono::milliseconds{ms}, BusName("can0"), standard_id(0x7E9),
                    std::vector<std::uint8_t>{4, byte, 0xD1, 5});
}
const Item kLong = DecoderText{kAt, "demo/signals.toml", std::string(900, 'x')};

// --- normal ---

TEST(JobReader, GivesTheItemsOfAFileInOrder) {
  const std::vector<Item> items{
      Settings{kAt, "j", "p", "", {{"window", "35:45"}}}, kLong, frame(1), Advance{kAt}, frame(2), End{kAt}};
  std::string text = kMagic;
  std::vector<std::string> expected;
  for (const Item& item : items) {
    text += text_of_item(item);
    expected.push_back(whole(item));
  }
  const auto came = read(text);
  EXPECT_EQ(came.items, expected);
  EXPECT_EQ(came.ending.kind, EndKind::clean);
  EXPECT_EQ(came.ending.bad_records, 0U);
}

TEST(JobReader, PassesOverSeals) {
  const auto came = read(kMagic + text_of_item(frame(1)) + seal_line({kAt, 60, std::string(64, 'a')}) + "\n" +
                         text_of_item(frame(2)));
  EXPECT_EQ(came.items.size(), 2U);
  EXPECT_EQ(came.ending.kind, EndKind::clean);
}

TEST(JobReader, AnEmptyFileEndsCleanly) {
  EXPECT_EQ(read("").ending.kind, EndKind::clean);
  EXPECT_EQ(read(kMagic).ending.kind, EndKind::clean);
}

TEST(JobReader, AnyCutOfTheBytesGivesTheSameItems) {
  RandomItems items(21);
  std::mt19937 random(22);
  for (int round = 0; round < 30; ++round) {
    std::string text = kMagic;
    for (int i = 0; i < 8; ++i) text += text_of_item(items.next());
    if (round % 3 == 0) text += "(1700000000.0) can0 7E9#04";
    if (round % 4 == 0) text.insert(text.size() / 2, "?");
    const auto at_once = read(text);
    for (const std::size_t most : {1U, 7U, 400U}) {
      std::vector<std::string> pieces;
      for (std::size_t at = 0; at < text.size();) {
        const std::size_t n = std::uniform_int_distribution<std::size_t>(1, most)(random);
        pieces.push_back(text.substr(at, n));
        at += n;
      }
      const auto in_pieces = read(pieces);
      ASSERT_EQ(in_pieces.items, at_once.items);
      ASSERT_EQ(in_pieces.ending.kind, at_once.ending.kind);
      ASSERT_EQ(in_pieces.ending.line, at_once.ending.line);
      ASSERT_EQ(in_pieces.ending.bytes, at_once.ending.bytes);
      ASSERT_EQ(in_pieces.ending.bad_records, at_once.ending.bad_records);
    }
  }
}

TEST(JobReader, AnItemThatOnlySpeaksOfTornIsNone) {
  // The words stand in a text, or in a line that is none: neither takes the line before it away.
  const std::string note = text_of_item(Entry{kAt, "e", "note", R"({"text":"x"})"}) + "\n";
  const WhatCame text =
      read({kMagic, note, text_of_item(Entry{kAt, "f", "note", R"({"item":"torn"})"}) + "\n"});
  EXPECT_EQ(text.items.size(), 2U);
  EXPECT_EQ(text.unreadable, 0U);
  const WhatCame broken = read({kMagic, note, "# {\"item\":\"torn\"\n"});
  EXPECT_EQ(broken.items.size(), 2U);
  EXPECT_EQ(broken.unreadable, 1U);
}

// --- torn ends ---

TEST(JobReader, AFragmentAtTheEndIsTornAndNeverAnItem) {
  const std::string last = text_of_item(frame(2));
  for (std::size_t kept = 1; kept < last.size(); ++kept) {
    const auto came = read(kMagic + text_of_item(frame(1)) + last.substr(0, kept));
    ASSERT_EQ(came.items, std::vector{whole(frame(1))}) << kept;
    ASSERT_EQ(came.ending.kind, EndKind::torn);
    ASSERT_EQ(came.ending.line, 3U);
    ASSERT_EQ(came.ending.bytes, kept);
    ASSERT_EQ(came.ending.why, "the last line is a fragment");
  }
}

TEST(JobReader, NumberedPartsWithoutTheLastOneAreTornToo) {
  const auto lines = item_lines(kLong);
  std::string text = kMagic + text_of_item(frame(1)) + lines[0] + "\n" + lines[1] + "\n";
  const auto came = read(text);
  EXPECT_EQ(came.items.size(), 1U);
  EXPECT_EQ(came.ending.kind, EndKind::torn);
  EXPECT_EQ(came.ending.line, 4U);
  EXPECT_EQ(came.ending.bytes, lines[1].size());
  EXPECT_EQ(came.ending.why, "the last item lacks some of its numbered parts");
}

TEST(JobReader, AFragmentOfAPartIsOneTornEnd) {
  const auto lines = item_lines(kLong);
  const auto came = read(kMagic + lines[0] + "\n" + lines[1].substr(0, 40));
  EXPECT_TRUE(came.items.empty());
  EXPECT_EQ(came.ending.kind, EndKind::torn);
  EXPECT_EQ(came.ending.bytes, 40U);
  EXPECT_EQ(came.ending.bad_records, 0U);
}

// --- resumed jobs ---

std::string resumed(const std::string& fragment, std::uint64_t bytes, const std::string& before = "") {
  return kMagic + before + fragment + "\n" + text_of_item(Torn{kAt, bytes}) + text_of_item(Resume{kAt}) +
         text_of_item(frame(9));
}
const std::vector<std::string> kAfterResume{whole(Resume{kAt}), whole(frame(9))};

TEST(JobReader, AFragmentThatTornExplainsIsNeverAnItemEvenIfItReadsLikeOne) {
  // Every one of these would be a frame; the core that was resumed has not seen it.
  const std::string last = text_of_item(frame(2));
  for (std::size_t kept = 1; kept < last.size(); ++kept) {
    const auto came = read(resumed(last.substr(0, kept), kept));
    std::vector<std::string> expected{whole(Torn{kAt, kept})};
    expected.insert(expected.end(), kAfterResume.begin(), kAfterResume.end());
    ASSERT_EQ(came.items, expected) << kept;
    ASSERT_EQ(came.ending.kind, EndKind::clean);
  }
}

TEST(JobReader, AmongFramesAFragmentThatTornExplainsIsNeverAnItemEither) {
  const std::string before = text_of_item(frame(3)) + text_of_item(frame(4)) + text_of_item(frame(5));
  const std::string last = text_of_item(frame(2));
  for (std::size_t kept = 1; kept < last.size(); ++kept) {
    const auto came = read(resumed(last.substr(0, kept), kept, before));
    std::vector<std::string> expected{whole(frame(3)), whole(frame(4)), whole(frame(5)),
                                      whole(Torn{kAt, kept})};
    expected.insert(expected.end(), kAfterResume.begin(), kAfterResume.end());
    ASSERT_EQ(came.items, expected) << kept;
    ASSERT_EQ(came.ending.kind, EndKind::clean);
  }
}

TEST(JobReader, PartsThatFramesInterruptAreReportedBeforeThem) {
  const std::string part = item_lines(kLong)[0] + '\n';
  // Each first part ends the one before it; the last one waits for its second part in vain.
  const auto came = read(kMagic + text_of_item(frame(1)) + part + part + part + text_of_item(frame(2)) +
                         text_of_item(frame(3)) + text_of_item(frame(4)));
  ASSERT_EQ(came.items.size(), 7U);
  EXPECT_EQ(came.unreadable, 3U);
  EXPECT_TRUE(std::holds_alternative<Unreadable>(came.raw[3])) << came.items[3];
  EXPECT_EQ(came.items[4], whole(frame(2)));
}

TEST(JobReader, TornEndsTheNumberedPartsBeforeIt) {
  const auto lines = item_lines(kLong);
  const auto cut = read(resumed(lines[1].substr(0, 30), 30, lines[0] + "\n"));
  EXPECT_EQ(cut.items.size(), 3U);
  EXPECT_EQ(cut.ending.kind, EndKind::clean);
  const auto between = read(resumed(lines[1], lines[1].size(), lines[0] + "\n"));
  EXPECT_EQ(between.items.size(), 3U);
  EXPECT_EQ(between.ending.kind, EndKind::clean);
}

TEST(JobReader, AFragmentThatDoesNotMatchTheLengthIsReported) {
  const auto came = read(resumed("(1700000000.0) can0 7E9#04", 25));
  ASSERT_EQ(came.raw.size(), 5U);
  EXPECT_TRUE(std::holds_alternative<CanFrame>(came.raw[0])) << "a whole line that nothing explains counts";
  EXPECT_EQ(came.unreadable, 1U);
  EXPECT_TRUE(std::holds_alternative<Torn>(came.raw[2]));
  EXPECT_EQ(came.ending.kind, EndKind::corrupt);
  EXPECT_EQ(came.ending.line, 3U);
  EXPECT_EQ(came.ending.why, "'torn' speaks of 25 bytes, the line before it has another length");
}

TEST(JobReader, AFragmentThatNothingExplainsIsReportedWhenItCannotBeRead) {
  const auto came = read(kMagic + "(1700000000.0) can0 7E\n" + text_of_item(Resume{kAt}));
  EXPECT_EQ(came.unreadable, 1U);
  EXPECT_EQ(came.ending.kind, EndKind::corrupt);
  EXPECT_EQ(came.ending.line, 2U);
}

TEST(JobReader, ATextThatOnlyNamesTornExplainsNothing) {
  const auto came = read(kMagic + text_of_item(frame(1)) +
                         text_of_item(Entry{kAt, "e", "note", R"({"text":"x","item":"torn"})"}));
  EXPECT_EQ(came.items.size(), 2U);
  EXPECT_EQ(came.ending.kind, EndKind::clean);
}

TEST(JobReader, AJobMayBeTornAndResumedSeveralTimes) {
  const auto came = read(resumed("(17", 3, resumed("# {\"t\":1", 8).substr(kMagic.size())));
  EXPECT_EQ(came.items.size(), 6U);
  EXPECT_EQ(came.ending.kind, EndKind::clean);
}

// --- errors ---

TEST(JobReader, ABadLineInTheMiddleIsCorruptWithItsLineAndTheItemsAroundItStay) {
  const auto came = read(kMagic + text_of_item(frame(1)) + "garbage\n" + text_of_item(frame(2)) + "# {\n" +
                         text_of_item(frame(3)));
  ASSERT_EQ(came.raw.size(), 5U);
  EXPECT_EQ(came.unreadable, 2U);
  const auto& bad = std::get<Unreadable>(came.raw[1]);
  EXPECT_EQ(bad.line, 3U);
  EXPECT_FALSE(bad.why.empty());
  EXPECT_EQ(micros(bad.at), micros(frame(1).at)) << "it stands at the time of the item before it";
  EXPECT_EQ(came.ending.kind, EndKind::corrupt);
  EXPECT_EQ(came.ending.line, 3U);
  EXPECT_EQ(came.ending.bad_records, 2U);
}

TEST(JobReader, CorruptOutranksTorn) {
  const auto came = read(kMagic + "garbage\n" + text_of_item(frame(1)) + "(17");
  EXPECT_EQ(came.ending.kind, EndKind::corrupt);
  EXPECT_EQ(came.ending.line, 2U);
  EXPECT_EQ(came.ending.bytes, 3U);
}

TEST(JobReader, AnOverlongLineIsOneBadRecordAndTheNextItemComes) {
  const std::string overlong(CaptureReader::kMaxRecord + 1, 'x');
  const auto came =
      read({kMagic + text_of_item(frame(1)), overlong, overlong, "\n" + text_of_item(frame(2))});
  ASSERT_EQ(came.raw.size(), 3U);
  EXPECT_EQ(std::get<Unreadable>(came.raw[1]).why, "the line is longer than 1 MiB");
  EXPECT_EQ(came.ending.kind, EndKind::corrupt);
}

TEST(JobReader, AnOverlongLineBetweenPartsLeavesNoPartBehind) {
  const auto lines = item_lines(kLong);
  std::string text = kMagic + lines[0] + "\n" + std::string(CaptureReader::kMaxRecord + 1, 'x') + "\n";
  for (std::size_t i = 1; i < lines.size(); ++i) text += lines[i] + "\n";
  for (const Item& item : read(text).raw) EXPECT_TRUE(std::holds_alternative<Unreadable>(item));
}

TEST(JobReader, RandomBytesNeverCrashAndNeverPassInSilence) {
  std::mt19937 random(31);
  for (int round = 0; round < 2000; ++round) {
    std::string bytes;
    const int length = std::uniform_int_distribution<int>(1, 200)(random);
    for (int i = 0; i < length; ++i)
      bytes += static_cast<char>(std::uniform_int_distribution<int>(1, 255)(random));
    const auto came = read(bytes);
    const bool only_blank = bytes.find_first_not_of('\n') == std::string::npos;
    EXPECT_TRUE(only_blank || came.ending.kind != EndKind::clean);
  }
}

}  // namespace
}  // namespace sumplog
