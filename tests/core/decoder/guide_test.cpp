#include <gtest/gtest.h>

#include <set>
#include <sstream>

#include "core/codes/code_file.h"
#include "core/decoder/decoder.h"
#include "core/decoder/mistakes.h"
#include "core/decoder/service_file.h"
#include "core/decoder/signal_name.h"

namespace sumplog {
namespace {

// docs/decoder_format.md is written by hand: these tests hold it against the parser.

using Words = std::set<std::string>;

std::string guide() {
  return testing::file_text(std::filesystem::path{SUMPLOG_SOURCE} / "docs/decoder_format.md");
}

/// From one heading to the next of the same or a higher level.
std::string section(const std::string& heading) {
  const std::string text = guide();
  const std::size_t at = text.find("\n" + heading + "\n");
  if (at == std::string::npos) throw std::logic_error("no section " + heading);
  const std::size_t level = heading.find(' ');
  std::size_t end = text.size();
  for (std::size_t n = 1; n <= level; ++n) {
    end = std::min(end, text.find("\n" + std::string(n, '#') + " ", at + heading.size()));
  }
  return text.substr(at, end - at);
}

/// The cells of each table row that begins with a word in code style: | `word` | second | third |
std::vector<std::vector<std::string>> rows(const std::string& text) {
  std::vector<std::vector<std::string>> out;
  std::istringstream lines(text);
  for (std::string line; std::getline(lines, line);) {
    if (!line.starts_with("| `")) continue;
    std::vector<std::string> cells;
    std::istringstream row(line.substr(2));
    for (std::string cell; std::getline(row, cell, '|');) cells.push_back(cell);
    out.push_back(cells);
  }
  return out;
}

/// What stands between backticks, brackets of a table's name left out.
Words code_words(const std::string& cell) {
  Words out;
  std::istringstream parts(cell);
  bool inside = false;
  for (std::string part; std::getline(parts, part, '`'); inside = !inside) {
    if (!inside) continue;
    const bool table = part.starts_with('[');
    out.insert(table ? part.substr(1, part.size() - 2) : part);
  }
  return out;
}

Words first_column(const std::string& text) {
  Words out;
  for (const auto& row : rows(text)) out.merge(code_words(row[0]));
  return out;
}

/// The texts of fenced blocks with this language.
std::vector<std::string> blocks(const std::string& text, const std::string& language) {
  std::vector<std::string> out;
  const std::string fence = "\n```" + language + "\n";
  for (std::size_t at = text.find(fence); at != std::string::npos; at = text.find(fence, at + 1)) {
    const std::size_t start = at + fence.size();
    out.push_back(text.substr(start, text.find("\n```\n", start) + 1 - start));
  }
  return out;
}

/// What a parser lists when it is given a key that is like no other.
Words known_here(const std::string& error) {
  const std::string start = "known here: ";
  std::istringstream list(error.substr(error.find(start) + start.size()));
  Words out;
  for (std::string word; list >> word;) out.insert(word.substr(0, word.find(',')));
  return out;
}
const std::string kStrangeKey = "qqqqqqqqqqqqqqqqqqqq = 1\n";

Words decoder_keys(const std::string& before) {
  return known_here(parse_decoder(before + kStrangeKey, "guide").error().text());
}
Words service_keys(const std::string& before) {
  return known_here(parse_service_file(before + kStrangeKey, "guide").error().text());
}

Words code_file_keys(const std::string& before) {
  return known_here(parse_code_file(before + kStrangeKey, "guide").error().text());
}

const std::string kHead = "format = 1\nid = \"a\"\ntitle = \"b\"\n";

TEST(DecoderGuide, NamesEveryKeyOfTheTopAndNoOther) {
  EXPECT_EQ(first_column(section("### Top of the file")), decoder_keys(""));
}

TEST(DecoderGuide, NamesEveryKeyOfAControlUnitAndNoOther) {
  EXPECT_EQ(first_column(section("### `[[ecu]]`: a control unit")), decoder_keys(kHead + "[[ecu]]\n"));
}

TEST(DecoderGuide, NamesEveryKeyOfASignalAndNoOther) {
  Words keys;
  for (const char* part : {"where it comes from", "which bits", "what the bits mean"}) {
    keys.merge(first_column(section("### `[[signal]]`: " + std::string{part})));
  }
  EXPECT_EQ(keys, decoder_keys(kHead + "[[signal]]\n"));
}

TEST(DecoderGuide, NamesEveryTableOfAServiceFileAndNoOther) {
  Words tables = first_column(section("## service.toml"));
  tables.insert({"format", "id", "title"});
  EXPECT_EQ(tables, service_keys(""));
}

TEST(DecoderGuide, NamesEveryKeyOfEachServiceTableAndNoOther) {
  const std::string text = section("## service.toml");
  int tables = 0;
  for (const auto& row : rows(text)) {
    const std::string table = *code_words(row[0]).begin();
    Words keys = code_words(row[1]);
    keys.insert({"origin", "origin_note"});
    EXPECT_EQ(keys, service_keys(kHead + "[" + table + "]\n")) << table;
    ++tables;
  }
  EXPECT_EQ(tables, 25);
}

TEST(DecoderGuide, NamesEveryKeyOfACodeFileAndNoOther) {
  EXPECT_EQ(first_column(section("### `[[code]]`: what a code means")), code_file_keys(kHead + "[[code]]\n"));
  EXPECT_EQ(first_column(section("### `[[class]]`: what a code means for the service")),
            code_file_keys(kHead + "[[class]]\n"));
  EXPECT_EQ(code_file_keys(""), (Words{"format", "id", "title", "code", "class"}));
}

TEST(DecoderGuide, ListsTheClassesOfCodes) {
  const Words listed = first_column(section("### Classes"));
  Words known;
  for (const CodeClass one :
       {CodeClass::stop_first, CodeClass::decide_first, CodeClass::invalidates_level_check,
        CodeClass::affects_warm_up, CodeClass::reason_to_service, CodeClass::unrelated, CodeClass::unknown})
    known.insert(std::string{text_of(one)});
  EXPECT_EQ(listed, known);
}

TEST(DecoderGuide, ListsTheNamesWithTheirUnitsInTheProgramsOrder) {
  std::string expected;
  for (const SignalName& one : signal_names()) {
    expected += "| `" + std::string{one.name} + "` | " + std::string{one.unit} + " | " +
                std::string{one.standard} + " |\n";
  }
  EXPECT_NE(section("### Names").find("|---|---|---|\n" + expected + "\n"), std::string::npos)
      << "the table must be:\n"
      << expected;
}

TEST(DecoderGuide, ListsTheUnits) {
  std::string expected;
  for (const std::string_view unit : unit_names())
    expected += (expected.empty() ? "`" : ", `") + std::string{unit} + "`";
  EXPECT_NE(section("### Units").find(expected), std::string::npos) << expected;
}

TEST(DecoderGuide, ListsTheOrigins) {
  const std::string text = section("### Origins");
  for (const Origin origin :
       {Origin::standard, Origin::service_manual, Origin::capture, Origin::inferred, Origin::invented}) {
    EXPECT_NE(text.find("| `" + std::string{text_of(origin)} + "` |"), std::string::npos) << text_of(origin);
  }
}

TEST(DecoderGuide, ExamplesAreInOrder) {
  const auto signals = blocks(section("## signals.toml"), "toml");
  ASSERT_EQ(signals.size(), 2U);  // the second shows a part of a file
  const auto decoder = parse_decoder(signals[0], "example");
  EXPECT_TRUE(decoder) << decoder.error().text();
  const auto services = blocks(section("## service.toml"), "toml");
  ASSERT_EQ(services.size(), 1U);
  const auto service = parse_service_file(services[0], "example");
  EXPECT_TRUE(service) << service.error().text();
  const auto codes = blocks(section("## codes.toml"), "toml");
  ASSERT_EQ(codes.size(), 1U);
  const auto code_file = parse_code_file(codes[0], "example");
  EXPECT_TRUE(code_file) << code_file.error().text();
}

TEST(DecoderGuide, QuotesErrorsAsTheProgramPrintsThem) {
  // The lists themselves are held against the parsers in mistakes_test.cpp.
  Words printed;
  for (const auto& mistake : testing::mistakes("decoder.mistakes"))
    printed.insert("my-9/signals.toml:" + mistake.error);
  for (const auto& mistake : testing::mistakes("service.mistakes"))
    printed.insert("my-9/service.toml:" + mistake.error);
  for (const auto& mistake : testing::mistakes("codes.mistakes"))
    printed.insert("my-9/codes.toml:" + mistake.error);
  const auto quoted = blocks(section("## What errors look like"), "text");
  ASSERT_EQ(quoted.size(), 1U);
  std::istringstream lines(quoted[0]);
  int count = 0;
  for (std::string line; std::getline(lines, line); ++count) EXPECT_TRUE(printed.contains(line)) << line;
  EXPECT_GT(count, 5);
}

}  // namespace
}  // namespace sumplog
