#include "core/record/entry_table.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <fstream>
#include <map>
#include <set>

#include "core/job/stages.h"

namespace sumplog {
namespace {

using ::testing::HasSubstr;

std::string kept(std::string_view name, std::string_view fields) {
  const auto checked = checked_fields(name, fields);
  return checked ? *checked : "refused: " + checked.error().text();
}
std::string typed(std::string_view name, const std::vector<std::string>& words) {
  const auto fields = fields_from_words(name, words);
  return fields ? *fields : "refused: " + fields.error().text();
}

TEST(EntryTable, WhatFitsIsKeptInItsOrderOnOneLine) {
  EXPECT_EQ(kept("fluid_out", "{ \"temp_c\": 38.5,\n \"litres\": 4.5, \"part\": \"drain\" }"),
            R"({"temp_c":38.5,"litres":4.5,"part":"drain"})");
  EXPECT_EQ(kept("plug_out", R"({"ago_s":40,"by":"K."})"), R"({"ago_s":40,"by":"K."})");
  EXPECT_EQ(kept("plug_out", "{}"), "{}");
  EXPECT_EQ(kept("verdict_shown", R"({"conditions":"not kept","why":["a","b"]})"),
            R"({"conditions":"not kept","why":["a","b"]})");
}

TEST(EntryTable, AnUnknownEntryIsRefusedWithThoseThatExist) {
  EXPECT_THAT(kept("plug_open", "{}"),
              HasSubstr("there is no entry 'plug_open'; the entries are: intake, stage_begun"));
  EXPECT_THAT(kept("", "{}"), HasSubstr("there is no entry ''"));
}

TEST(EntryTable, AnUnknownFieldIsRefusedWithThoseOfTheEntry) {
  EXPECT_THAT(
      kept("fluid_out", R"({"liters":4.5})"),
      HasSubstr(
          "entry fluid_out, field liters: this entry has no such field; its fields are: litres, mass_kg"));
  EXPECT_THAT(kept("plug_out", R"({"litres":1})"), HasSubstr("its fields are: ago_s, by"));
}

TEST(EntryTable, AFieldOfTheWrongKindIsRefusedWithTheKindThatIsWanted) {
  EXPECT_THAT(kept("fluid_out", R"({"litres":"4,5"})"),
              HasSubstr("field litres: this value does not fit; give a number from 0 to 200"));
  EXPECT_THAT(kept("fluid_out", R"({"litres":4500})"), HasSubstr("a number from 0 to 200"));
  EXPECT_THAT(kept("fluid_out", R"({"litres":null})"), HasSubstr("does not fit"));
  EXPECT_THAT(kept("stage_begun", R"({"stage":"drain"})"),
              HasSubstr("give one of: reception, road test before"));
  EXPECT_THAT(kept("condition_ticked", R"({"condition":"level","holds":"yes"})"),
              HasSubstr("give true or false"));
  EXPECT_THAT(kept("verdict_shown", R"({"conditions":"kept","why":"a"})"), HasSubstr("a list of texts"));
  EXPECT_THAT(kept("note", R"({"text":""})"), HasSubstr("a text of 1 to"));
  EXPECT_THAT(kept("note", R"({"text":")" + std::string(kLongestFieldText + 1, 'x') + "\"}"),
              HasSubstr("a text of 1 to"));
  EXPECT_THAT(kept("plug_out", R"({"ago_s":601})"), HasSubstr("a number from 0 to 600"));
}

TEST(EntryTable, TheEndsOfARangeBelongToIt) {
  EXPECT_EQ(kept("fluid_out", R"({"litres":200,"temp_c":250})"), R"({"litres":200,"temp_c":250})");
  EXPECT_EQ(kept("fluid_out", R"({"litres":0,"temp_c":-60})"), R"({"litres":0,"temp_c":-60})");
  EXPECT_THAT(kept("fluid_out", R"({"litres":1,"temp_c":250.5})"), HasSubstr("a number from -60 to 250"));
}

TEST(EntryTable, AFieldBelowItsRangeOrWithAnythingElseInAListIsRefused) {
  EXPECT_THAT(kept("fluid_out", R"({"litres":-1})"), HasSubstr("a number from 0 to 200"));
  EXPECT_THAT(kept("stage_begun", R"({"stage":7})"), HasSubstr("give one of: reception"));
  EXPECT_THAT(kept("verdict_shown", R"({"conditions":"kept","why":["a",7]})"), HasSubstr("a list of texts"));
  EXPECT_THAT(kept("verdict_shown", R"({"conditions":"kept","why":["a",""]})"), HasSubstr("a list of texts"));
  EXPECT_EQ(kept("verdict_shown", R"({"conditions":"kept","why":[]})"), R"({"conditions":"kept","why":[]})");
}

TEST(EntryTable, AFieldThatIsNeededAndMissingIsNamed) {
  EXPECT_THAT(kept("reading_by_hand", "{}"), HasSubstr("field value_c: this field is missing"));
  EXPECT_THAT(kept("fluid_in", R"({"temp_c":20})"),
              HasSubstr("one of these fields is needed: litres, mass_kg"));
  EXPECT_EQ(kept("fluid_in", R"({"mass_kg":3.8})"), R"({"mass_kg":3.8})");
}

TEST(EntryTable, WhatIsNoObjectIsRefused) {
  for (const char* const fields : {"", "null", "[]", "{", "{\"a\":1e999}", "\"{}\"", "{\"by\":\"\xFF\"}"})
    EXPECT_THAT(kept("plug_out", fields), HasSubstr("refused: ")) << fields;
}

TEST(EntryTable, AFlagIsTypedInFourWaysAndAListHasOneText) {
  for (const auto& [word, holds] :
       {std::pair{"yes", "true"}, {"true", "true"}, {"no", "false"}, {"false", "false"}})
    EXPECT_EQ(typed("condition_ticked", {"condition=c", std::string("holds=") + word}),
              std::string(R"({"condition":"c","holds":)") + holds + "}");
  EXPECT_THAT(typed("condition_ticked", {"condition=c", "holds=perhaps"}), HasSubstr("give true or false"));
  EXPECT_EQ(typed("verdict_shown", {"conditions=kept", "why=a, b"}),
            R"({"conditions":"kept","why":["a, b"]})");
}

TEST(EntryTable, ANumberIsTypedWithoutAnythingBehindIt) {
  for (const char* const number : {"4,5", "4.5l", "x", "", "inf", "nan", "1e999"})
    EXPECT_THAT(typed("fluid_out", {std::string("litres=") + number}), HasSubstr("a number from 0 to 200"))
        << number;
  EXPECT_THAT(typed("fluid_out", {"litres=1e20"}), HasSubstr("a number from 0 to 200"));
}

TEST(EntryTable, TypedWordsOfAnUnknownEntryAreRefused) {
  EXPECT_THAT(typed("plug_open", {}), HasSubstr("there is no entry 'plug_open'"));
}

TEST(EntryTable, TypedWordsBecomeTheKindOfTheirField) {
  EXPECT_EQ(typed("fluid_out", {"litres=4.5", "temp_c=38", "part=drain", "container=bucket = blue"}),
            R"({"litres":4.5,"temp_c":38,"part":"drain","container":"bucket = blue"})");
  EXPECT_EQ(typed("condition_ticked", {"condition=level car", "holds=no"}),
            R"({"condition":"level car","holds":false})");
  EXPECT_EQ(typed("verdict_shown", {"conditions=not kept", "why=a", "why=b"}),
            R"({"conditions":"not kept","why":["a","b"]})");
  EXPECT_EQ(typed("intake", {"plate=123", "odometer_km=84200"}), R"({"plate":"123","odometer_km":84200})");
}

TEST(EntryTable, TypedWordsThatDoNotFitAreRefused) {
  EXPECT_THAT(typed("fluid_out", {"litres=4,5"}),
              HasSubstr("field litres: '4,5' does not fit; give a number"));
  EXPECT_THAT(typed("fluid_out", {"litres=nan"}), HasSubstr("does not fit"));
  EXPECT_THAT(typed("fluid_out", {"litres="}), HasSubstr("does not fit"));
  EXPECT_THAT(typed("fluid_out", {"litres"}), HasSubstr("'litres' is not key=value; its fields are: litres"));
  EXPECT_THAT(typed("fluid_out", {"litres=1", "litres=2"}), HasSubstr("given twice"));
  EXPECT_THAT(typed("fluid_out", {"colour=red"}), HasSubstr("no such field"));
}

/// Words in backticks of one cell of a Markdown table.
std::set<std::string> code_words(const std::string& cell) {
  std::set<std::string> words;
  for (std::size_t at = cell.find('`'); at != std::string::npos; at = cell.find('`', at)) {
    const std::size_t end = cell.find('`', at + 1);
    words.insert(cell.substr(at + 1, end - at - 1));
    at = end + 1;
  }
  return words;
}
std::vector<std::string> cells(const std::string& row) {
  std::vector<std::string> found;
  for (std::size_t at = 1; at < row.size();) {
    const std::size_t end = std::min(row.find('|', at), row.size());
    found.push_back(row.substr(at, end - at));
    at = end + 1;
  }
  return found;
}

TEST(EntryTable, IsWhatTheDocumentSays) {
  std::ifstream document(SUMPLOG_SOURCE "/docs/entries.md");
  std::map<std::string, std::set<std::string>> documented;
  std::set<std::string> stages;
  std::string row;
  while (std::getline(document, row)) {
    if (row.starts_with("| `")) {
      const auto columns = cells(row);
      ASSERT_GE(columns.size(), 3U) << row;
      for (const std::string& name : code_words(columns[0])) documented[name] = code_words(columns[1]);
    }
    if (row.starts_with("Stages: ")) stages = code_words(row);
  }
  std::map<std::string, std::set<std::string>> in_table;
  for (const EntryRule& entry : entry_table()) {
    std::set<std::string>& words = in_table[std::string(entry.name)];
    for (const FieldRule& field : entry.fields) {
      words.emplace(field.name);
      if (field.name != "stage") words.insert(field.words.begin(), field.words.end());
    }
  }
  EXPECT_EQ(documented, in_table);
  EXPECT_EQ(stages, std::set<std::string>(kStages.begin(), kStages.end()));
}

}  // namespace
}  // namespace sumplog
