#include <gtest/gtest.h>

#include <random>

#include "core/item/item_text.h"
#include "core/item/items.h"

namespace sumplog {
namespace {

using testing::RandomItems;
using testing::read_lines;
using testing::ReadBack;
using ::testing::Test;
using testing::whole;

constexpr TimePoint kAt = at_micros(1700000000123456);
const std::string kFrame = "(1700000000.200000) can0 7E9#0462";

/// A problem and no item.
std::string problem_of(const std::string& line) {
  const auto read = read_lines({line});
  EXPECT_TRUE(read.items.empty()) << line;
  EXPECT_EQ(read.problems.size(), 1U) << line;
  return read.problems.empty() ? "" : read.problems.front();
}
std::string object(const std::string& rest) {
  return R"(# {"t":1.5,)" + rest + "}";
}

// --- one bad line ---

TEST(DamagedItemLine, WhatIsNotAnObjectIsRefused) {
  for (const std::string line :
       {"# ", "# {", "# }", "# []", "# 1", "# null", "# \"text\"", "# {} {}", "# {\"t\":1", "# {'t':1}",
        "# {\"t\":1,}", "# \xFF", "# {\"a\":\"\xC3\"}", "# {\"a\":\"\\ud800\"}"})
    EXPECT_EQ(problem_of(line), "not a JSON object") << line;
}

TEST(DamagedItemLine, AMissingKeyIsNamed) {
  EXPECT_EQ(problem_of("# {}"), "key 'item' is missing");
  EXPECT_EQ(problem_of(R"(# {"item":"advance"})"), "key 't' is missing");
  const std::pair<const char*, const char*> kCases[] = {
      {R"("item":"settings","program":"p","time_zone":"","values":{})", "job"},
      {R"("item":"settings","job":"j","time_zone":"","values":{})", "program"},
      {R"("item":"settings","job":"j","program":"p","values":{})", "time_zone"},
      {R"("item":"settings","job":"j","program":"p","time_zone":"")", "values"},
      {R"("item":"decoder_text","text":"")", "name"},
      {R"("item":"decoder_text","name":"")", "text"},
      {R"("item":"entry","name":"n","fields":{})", "id"},
      {R"("item":"entry","id":"i","fields":{})", "name"},
      {R"("item":"entry","id":"i","name":"n")", "fields"},
      {R"("item":"link","state":"up")", "bus"},
      {R"("item":"link","bus":"can0")", "state"},
      {R"("item":"drops","frames":1)", "bus"},
      {R"("item":"drops","bus":"can0")", "frames"},
      {R"("item":"clock_step")", "step_us"},
      {R"("item":"scan","scan":"before")", "begun"},
      {R"("item":"scan","begun":true)", "scan"},
      {R"("item":"other_tester","id":"7DF")", "bus"},
      {R"("item":"other_tester","bus":"can0")", "id"},
      {R"("item":"torn")", "bytes"},
      {R"("item":"reading","value":"1")", "signal"},
      {R"("item":"reading","signal":"s")", "value"},
  };
  for (const auto& [members, key] : kCases)
    EXPECT_EQ(problem_of(object(members)), "key '" + std::string(key) + "' is missing");
}

TEST(DamagedItemLine, AWrongTypeIsNamed) {
  EXPECT_EQ(problem_of(R"(# {"t":"1","item":"end"})"), "'t' is not a number");
  EXPECT_EQ(problem_of(R"(# {"t":null,"item":"end"})"), "'t' is not a number");
  EXPECT_EQ(problem_of(object(R"("item":1)")), "'item' is not a text");
  EXPECT_EQ(problem_of(object(R"("item":"settings","job":1,"program":"","time_zone":"","values":{})")),
            "'job' is not a text");
  EXPECT_EQ(problem_of(object(R"("item":"settings","job":"","program":"","time_zone":"","values":[])")),
            "'values' is not an object");
  EXPECT_EQ(problem_of(object(R"("item":"settings","job":"","program":"","time_zone":"","values":{"a":1})")),
            "setting 'a' is not a text");
  EXPECT_EQ(problem_of(object(R"("item":"entry","id":"","name":"","fields":[])")),
            "'fields' is not an object");
  EXPECT_EQ(problem_of(object(R"("item":"drops","bus":"can0","frames":1.0)")),
            "'frames' is not a whole number");
  EXPECT_EQ(problem_of(object(R"("item":"drops","bus":"can0","frames":"1")")),
            "'frames' is not a whole number");
  EXPECT_EQ(problem_of(object(R"("item":"scan","scan":"","begun":1)")), "'begun' is neither true nor false");
  EXPECT_EQ(problem_of(object(R"("item":"link","bus":1,"state":"up")")), "'bus' is not a text");
  EXPECT_EQ(problem_of(object(R"("item":"reading","signal":"s","value":40)")), "'value' is not a text");
}

TEST(DamagedItemLine, AHugeOrNegativeNumberIsNeverTakenForAnother) {
  EXPECT_EQ(problem_of(R"(# {"t":1e300,"item":"end"})"), "'t' is out of range");
  EXPECT_EQ(problem_of(R"(# {"t":-1e300,"item":"end"})"), "'t' is out of range");
  EXPECT_EQ(problem_of(R"(# {"t":8600000000.000001,"item":"end"})"), "'t' is out of range");
  EXPECT_EQ(problem_of(R"(# {"t":1e999,"item":"end"})"), "not a JSON object");
  EXPECT_EQ(problem_of(object(R"("item":"torn","bytes":-1)")), "'bytes' is negative");
  EXPECT_EQ(problem_of(object(R"("item":"torn","bytes":9223372036854775808)")), "'bytes' is too large");
  EXPECT_EQ(problem_of(object(R"("item":"clock_step","step_us":18446744073709551615)")),
            "'step_us' is too large");
  EXPECT_EQ(problem_of(object(R"("item":"clock_step","step_us":99999999999999999999)")),
            "'step_us' is not a whole number");
}

TEST(DamagedItemLine, AnUnknownItemStateOrIdentifierIsRefused) {
  EXPECT_EQ(problem_of(object(R"("item":"weather")")), "unknown item 'weather'");
  EXPECT_EQ(problem_of(object(R"("item":"link","bus":"can0","state":"UP")")), "unknown link state 'UP'");
  EXPECT_EQ(problem_of(object(R"("item":"link","bus":"","state":"up")")), "'bus' is not an interface name");
  EXPECT_EQ(problem_of(object(R"("item":"link","bus":"0123456789abcdef","state":"up")")),
            "'bus' is not an interface name");
  const auto tester = [](const std::string& id) {
    return problem_of(object(R"("item":"other_tester","bus":"can0","id":")" + id + "\""));
  };
  EXPECT_EQ(tester("7E"), "'id' has neither 3 nor 8 digits");
  EXPECT_EQ(tester("07E8"), "'id' has neither 3 nor 8 digits");
  EXPECT_EQ(tester("7e8"), "'id' is not upper-case hex");
  EXPECT_EQ(tester("7G8"), "'id' is not upper-case hex");
  EXPECT_EQ(tester("7/8"), "'id' is not upper-case hex");
  EXPECT_EQ(tester("7:8"), "'id' is not upper-case hex");
  EXPECT_EQ(tester("800"), "'id' is out of range");
  EXPECT_EQ(tester("20000000"), "'id' is out of range");
}

TEST(DamagedItemLine, DeepNestingIsRefusedBeforeItCanExhaustTheStack) {
  const std::string deep(200000, '[');
  EXPECT_EQ(problem_of("# {\"t\":1,\"item\":\"entry\",\"fields\":{\"a\":" + deep), "nested too deeply");
  EXPECT_EQ(problem_of("# " + std::string(100000, '{')), "nested too deeply");
  std::string text = R"(# {"t":1,"item":"end","a":"[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[\"[[["})";
  EXPECT_EQ(read_lines({text}).items.size(), 1U) << "brackets in a text nest nothing";
}

TEST(DamagedItemLine, ABadLineCostsThatLineAlone) {
  const auto read = read_lines({kFrame, "# {broken", "nonsense", "(1) can0", kFrame});
  EXPECT_EQ(read.items.size(), 2U);
  EXPECT_EQ(read.problems.size(), 3U);
}

TEST(DamagedItemLine, ADamagedSealIsNotASeal) {
  const std::string good = seal_line({kAt, 1, std::string(64, 'a')});
  EXPECT_TRUE(parse_seal(good));
  EXPECT_FALSE(parse_seal(good.substr(0, good.size() - 1)));
  EXPECT_FALSE(parse_seal(seal_line({kAt, 1, std::string(63, 'a')})));
  EXPECT_FALSE(parse_seal(seal_line({kAt, 1, std::string(64, 'A')})));
  EXPECT_FALSE(parse_seal(R"(# {"t":1,"item":"seal","bytes":-1,"sha256":")" + std::string(64, 'a') + "\"}"));
  EXPECT_FALSE(parse_seal(R"(# {"t":1,"item":"end"})"));
  EXPECT_FALSE(parse_seal(R"(# {"t":1,"item":"entry","bytes":1,"fields":{"item":"seal"},"sha256":")" +
                          std::string(64, 'a') + "\"}"))
      << "an entry may hold these words";
  EXPECT_FALSE(parse_seal(""));
  EXPECT_FALSE(parse_seal("(1.0) can0 7E8#"));
}

// --- parts ---

class DamagedParts : public Test {
 protected:
  const DecoderText first_{kAt, "first", std::string(1500, 'a')};
  const DecoderText second_{kAt, "second", std::string(1500, 'b')};
  const std::vector<std::string> a_ = item_lines(first_);
  const std::vector<std::string> b_ = item_lines(second_);

  static std::vector<std::string> joined(std::vector<std::string> lines,
                                         const std::vector<std::string>& more) {
    lines.insert(lines.end(), more.begin(), more.end());
    return lines;
  }
  /// The second item came back whole; the first did not, and that was said.
  void expect_only_second(const ReadBack& read) const {
    ASSERT_EQ(read.items.size(), 1U);
    EXPECT_EQ(whole(read.items.front()), whole(second_));
    EXPECT_FALSE(read.problems.empty());
  }
};

TEST_F(DamagedParts, OfTwoItemsInOneFileBothComeBack) {
  const auto read = read_lines(joined(a_, b_));
  ASSERT_EQ(read.items.size(), 2U);
  EXPECT_TRUE(read.problems.empty());
}

TEST_F(DamagedParts, AMissingPartCostsItsItemAndNotTheNext) {
  for (std::size_t k = 0; k < a_.size(); ++k) {
    auto lines = a_;
    lines.erase(lines.begin() + static_cast<std::ptrdiff_t>(k));
    SCOPED_TRACE(k);
    expect_only_second(read_lines(joined(lines, b_)));
  }
}

TEST_F(DamagedParts, ADoubledPartCostsItsItemAndNotTheNext) {
  for (std::size_t k = 0; k < a_.size(); ++k) {
    auto lines = a_;
    lines.insert(lines.begin() + static_cast<std::ptrdiff_t>(k), a_[k]);
    SCOPED_TRACE(k);
    const auto read = read_lines(joined(lines, b_));
    if (k == 0 || k + 1 == a_.size()) {
      // The first part begins anew; behind a doubled last part the item is whole already. Both are said.
      EXPECT_EQ(read.items.size(), 2U);
      EXPECT_FALSE(read.problems.empty());
    } else {
      expect_only_second(read);
    }
  }
}

TEST_F(DamagedParts, SwappedPartsCostTheirItemAndNotTheNext) {
  for (std::size_t k = 0; k + 1 < a_.size(); ++k) {
    auto lines = a_;
    std::swap(lines[k], lines[k + 1]);
    SCOPED_TRACE(k);
    expect_only_second(read_lines(joined(lines, b_)));
  }
}

TEST_F(DamagedParts, AFrameBetweenPartsCostsTheItemAndKeepsTheFrame) {
  auto lines = a_;
  lines.insert(lines.begin() + 1, kFrame);
  const auto read = read_lines(lines);
  ASSERT_EQ(read.items.size(), 1U);
  EXPECT_TRUE(std::holds_alternative<CanFrame>(read.items.front()));
  ASSERT_FALSE(read.problems.empty());
  EXPECT_EQ(read.problems.front(), "a frame stands between the numbered parts of an item");
}

TEST_F(DamagedParts, AnotherItemOrASealBetweenPartsSaysThatAPartIsMissing) {
  for (const std::string& between :
       {item_lines(Advance{kAt}).front(), seal_line({kAt, 1, std::string(64, 'a')})}) {
    const auto read = read_lines({a_[0], between});
    ASSERT_EQ(read.problems.size(), 1U) << between;
    EXPECT_EQ(read.problems.front(), "the item before this line is incomplete: a numbered part is missing");
  }
}

TEST_F(DamagedParts, TornAfterUnfinishedPartsIsNoProblem) {
  const auto read = read_lines({a_[0], a_[1], item_lines(Torn{kAt, 5}).front(), b_[0]});
  ASSERT_EQ(read.items.size(), 1U);
  EXPECT_TRUE(std::holds_alternative<Torn>(read.items.front()));
  EXPECT_TRUE(read.problems.empty());
}

TEST_F(DamagedParts, HeldPartsAreCountedAndCanBeDropped) {
  ItemLineParser parser;
  EXPECT_EQ(parser.parts_held(), 0U);
  (void)parser.on_line(a_[0]);
  (void)parser.on_line(a_[1]);
  EXPECT_EQ(parser.parts_held(), 2U);
  parser.drop_parts();
  EXPECT_EQ(parser.parts_held(), 0U);
  for (const std::string& line : b_) {
    const auto parsed = parser.on_line(line);
    EXPECT_TRUE(parsed.problem.empty());
  }
  EXPECT_EQ(parser.parts_held(), 0U);
}

TEST_F(DamagedParts, PartNumbersOutOfRangeAreRefused) {
  EXPECT_EQ(problem_of(R"(# {"part":0,"of":2,"text":""})"), "part numbers are out of range");
  EXPECT_EQ(problem_of(R"(# {"part":3,"of":2,"text":""})"), "part numbers are out of range");
  EXPECT_EQ(problem_of(R"(# {"part":1,"of":1,"text":""})"), "part numbers are out of range");
  EXPECT_EQ(problem_of(R"(# {"part":1,"of":100000,"text":""})"), "part numbers are out of range");
  EXPECT_EQ(problem_of(R"(# {"part":-1,"of":2,"text":""})"), "'part' is negative");
  EXPECT_EQ(problem_of(R"(# {"part":1,"text":""})"), "key 'of' is missing");
  EXPECT_EQ(problem_of(R"(# {"part":1,"of":2})"), "key 'text' is missing");
  EXPECT_EQ(problem_of(R"(# {"part":2,"of":2,"text":""})"), "part 2 does not follow the part before it");
}

TEST_F(DamagedParts, APartOfAnItemOfAnotherLengthDoesNotFollow) {
  const auto read = read_lines(
      {R"(# {"part":1,"of":2,"text":"{\"t\":1,\"item\":"})", R"(# {"part":2,"of":3,"text":"\"end\"}"})"});
  EXPECT_TRUE(read.items.empty());
  EXPECT_EQ(read.problems.size(), 1U);
}

TEST_F(DamagedParts, WhatTheyJoinToIsReadLikeALineAndNotLikeParts) {
  const auto read = read_lines({R"(# {"part":1,"of":2,"text":"{\"part\":1,\"of\":2,"})",
                                R"(# {"part":2,"of":2,"text":"\"text\":\"\"}"})"});
  EXPECT_TRUE(read.items.empty());
  ASSERT_EQ(read.problems.size(), 1U);
  EXPECT_EQ(read.problems.front(), "key 'item' is missing");
}

TEST_F(DamagedParts, TooMuchTextIsRefusedBeforeItFillsTheMemory) {
  ItemLineParser parser;
  const std::string megabyte(1 << 20, 'x');
  std::string problem;
  for (int part = 1; part <= 6 && problem.empty(); ++part)
    problem =
        parser.on_line("# {\"part\":" + std::to_string(part) + ",\"of\":99,\"text\":\"" + megabyte + "\"}")
            .problem;
  EXPECT_EQ(problem, "the item is longer than 4 MiB");
  EXPECT_EQ(parser.parts_held(), 0U);
}

// --- anything ---

TEST(DamagedItemLine, RandomBytesNeverCrashAndNeverPassInSilence) {
  std::mt19937 random(11);
  const std::string alphabet = "# {}[]\":,\\0123456789.-eE()tfnulpartoiem\n\x80\xC3\xFF";
  for (int round = 0; round < 20000; ++round) {
    std::string line = round % 2 == 0 ? "# " : "";
    const auto length = std::uniform_int_distribution<int>(1, 60)(random);
    for (int i = 0; i < length; ++i)
      line += alphabet[std::uniform_int_distribution<std::size_t>(0, alphabet.size() - 1)(random)];
    const auto read = read_lines({line});
    EXPECT_TRUE(!read.items.empty() || !read.problems.empty()) << line;
  }
}

TEST(DamagedItemLine, ChangedBytesNeverCrash) {
  RandomItems items(5);
  std::mt19937 random(13);
  for (int round = 0; round < 2000; ++round) {
    auto lines = item_lines(items.next());
    for (int change = 0; change < 3; ++change) {
      std::string& line = lines[std::uniform_int_distribution<std::size_t>(0, lines.size() - 1)(random)];
      line[std::uniform_int_distribution<std::size_t>(0, line.size() - 1)(random)] =
          static_cast<char>(std::uniform_int_distribution<int>(0, 255)(random));
    }
    const auto read = read_lines(lines);
    EXPECT_LE(read.items.size(), lines.size());
  }
}

}  // namespace
}  // namespace sumplog
