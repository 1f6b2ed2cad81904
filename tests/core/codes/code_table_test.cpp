#include "core/codes/code_table.h"

#include <gtest/gtest.h>

#include "core/decoder/mistakes.h"

namespace sumplog {
namespace {

CodeFile file_of(const std::string& text) {
  const auto file = parse_code_file("format = 1\nid = \"a\"\ntitle = \"b\"\n" + text, "a/codes.toml");
  EXPECT_TRUE(file) << file.error().text();
  return file ? *file : CodeFile{};
}

std::string classed(const std::string& codes, const std::string& more, const std::string& why) {
  return "[[class]]\ncodes = [" + codes + "]\n" + more + "why = \"" + why + "\"\norigin = \"invented\"\n";
}
std::string described(const std::string& code, const std::string& text) {
  return "[[code]]\ncode = \"" + code + "\"\ntext = \"" + text + "\"\norigin = \"invented\"\n";
}

const CodeTable& shipped() {
  static const CodeTable table = [] {
    CodeTable out;
    const auto file = parse_code_file(
        testing::file_text(std::filesystem::path{SUMPLOG_SOURCE} / "decoders/obd-generic/codes.toml"),
        "obd-generic/codes.toml");
    EXPECT_TRUE(file) << file.error().text();
    if (file) out.add(*file);
    return out;
  }();
  return table;
}

TEST(CodeTable, ThatIsEmptyKnowsNoCodeAndSaysSo) {
  const CodeMeaning meaning = CodeTable{}.find("P0711");
  EXPECT_FALSE(meaning.known);
  EXPECT_EQ(meaning.text, "unknown: look it up in the maker's documentation");
  EXPECT_EQ(meaning.code_class, CodeClass::unknown);
  EXPECT_FALSE(meaning.why.empty());
}

TEST(CodeTable, GivesTextAndClassWithTheirOrigins) {
  CodeTable table;
  const auto sound = parse_code_file(testing::test_file("sound_codes.toml"), "my-9/codes.toml");
  ASSERT_TRUE(sound) << sound.error().text();
  table.add(*sound);
  const CodeMeaning meaning = table.find("P0711");
  EXPECT_TRUE(meaning.known);
  EXPECT_EQ(meaning.text, "fluid temperature sensor A: signal implausible");
  EXPECT_EQ(meaning.text_origin, Origin::service_manual);
  EXPECT_EQ(meaning.text_note, "invented handbook, page 12");
  EXPECT_EQ(meaning.code_class, CodeClass::decide_first);
  EXPECT_EQ(meaning.why, "Look at the failure type.");
  EXPECT_EQ(meaning.class_origin, Origin::invented);
  EXPECT_EQ(table.find("SPN 177", 15).class_note, "FMI of SAE J1939-73");
}

TEST(CodeTable, AFailureTypeThatIsNamedWinsOverTheCodeAlone) {
  CodeTable table;
  const auto sound = parse_code_file(testing::test_file("sound_codes.toml"), "my-9/codes.toml");
  ASSERT_TRUE(sound);
  table.add(*sound);
  EXPECT_EQ(table.find("P0711-1F").code_class, CodeClass::invalidates_level_check);
  EXPECT_EQ(table.find("P0711", 0x29).code_class, CodeClass::invalidates_level_check);
  EXPECT_EQ(table.find(J2012Code{0x0711, 0x1F}).code_class, CodeClass::invalidates_level_check);
  EXPECT_EQ(table.find("P0711-00").code_class, CodeClass::decide_first);
  EXPECT_EQ(table.find(J2012Code{0x0711, std::nullopt}).code_class, CodeClass::decide_first);
}

TEST(CodeTable, AnFmiThatIsNotNamedIsNotClassed) {
  CodeTable table;
  table.add(file_of(classed("\"SPN 177\"", "fmi = [0]\nclass = \"stop first\"\n", "hot")));
  EXPECT_EQ(table.find_spn(177, 0).code_class, CodeClass::stop_first);
  EXPECT_EQ(table.find("SPN 177 FMI 0").code_class, CodeClass::stop_first);
  EXPECT_EQ(table.find_spn(177, 3).code_class, CodeClass::unknown);
  EXPECT_EQ(table.find_spn(177).code_class, CodeClass::unknown);
}

TEST(CodeTable, ARangeHoldsItsEndsAndCountsInHexadecimal) {
  CodeTable table;
  table.add(file_of(classed("\"P0729-P0736\"", "class = \"stop first\"\n", "slips")));
  for (const char* code : {"P0729", "P072A", "P072F", "P0730", "P0736"})
    EXPECT_EQ(table.find(code).code_class, CodeClass::stop_first) << code;
  for (const char* code : {"P0728", "P0737", "C0730", "SPN 1840", "nonsense"})
    EXPECT_EQ(table.find(code).code_class, CodeClass::unknown) << code;
}

TEST(CodeTable, TheMakersFileHoldsBeforeTheGenericOne) {
  CodeTable table;
  table.add(file_of(described("P0711", "generic") + described("P0712", "generic, second") +
                    classed("\"P0711\"", "failure_types = [0x1F]\nclass = \"stop first\"\n", "generic") +
                    classed("\"P0712\"", "class = \"stop first\"\n", "generic")));
  table.add(file_of(described("P0711", "the maker's") +
                    classed("\"P0700-P07FF\"", "class = \"decide first\"\n", "the maker's")));
  EXPECT_EQ(table.find("P0711").text, "the maker's");
  // Also where the generic file is the more particular one: the maker knows its unit.
  EXPECT_EQ(table.find("P0711-1F").why, "the maker's");
  EXPECT_EQ(table.find("P0712").text, "generic, second");
  EXPECT_EQ(table.find("P0712").why, "the maker's");
}

TEST(CodeTable, ATextWithoutAClassIsStillUnknownForTheWork) {
  CodeTable table;
  table.add(file_of(described("P0711", "sensor")));
  EXPECT_TRUE(table.find("P0711").known);
  EXPECT_EQ(table.find("P0711").code_class, CodeClass::unknown);
  EXPECT_EQ(table.find("P0711").why, kUnknownCodeWhy);
}

struct Row {
  const char* code;
  std::optional<std::uint8_t> detail;
  CodeClass code_class;
};

TEST(GenericCodes, AreClassedAsTheTradeDoes) {
  // Practice of the trade, from memory: no published table of such classes was at hand.
  const std::vector<Row> rows{
      {"P0729", {}, CodeClass::stop_first},
      {"P0736", {}, CodeClass::stop_first},
      {"P076F", {}, CodeClass::stop_first},
      {"P07D9", {}, CodeClass::stop_first},
      {"P07F6", {}, CodeClass::stop_first},
      {"P07F7", {}, CodeClass::stop_first},
      {"P0894", {}, CodeClass::stop_first},
      {"P0780", {}, CodeClass::stop_first},
      {"P0784", {}, CodeClass::stop_first},
      {"P0741", {}, CodeClass::decide_first},
      {"P0742", {}, CodeClass::decide_first},
      {"P0868", {}, CodeClass::stop_first},
      {"P0845", {}, CodeClass::stop_first},
      {"P0849", {}, CodeClass::stop_first},
      {"P0776", {}, CodeClass::stop_first},
      {"P0944", {}, CodeClass::stop_first},
      {"P0745", {}, CodeClass::stop_first},
      {"P0775", {}, CodeClass::stop_first},
      {"P0796", {}, CodeClass::stop_first},
      {"P0960", {}, CodeClass::stop_first},
      {"P0986", {}, CodeClass::stop_first},
      {"P0657", {}, CodeClass::stop_first},
      {"P0710", {}, CodeClass::invalidates_level_check},
      {"P0711", {}, CodeClass::invalidates_level_check},
      {"P0711", 0x1F, CodeClass::invalidates_level_check},
      {"P0712", {}, CodeClass::invalidates_level_check},
      {"P0713", {}, CodeClass::invalidates_level_check},
      {"P0714", {}, CodeClass::invalidates_level_check},
      {"P2740", {}, CodeClass::invalidates_level_check},
      {"P2744", {}, CodeClass::invalidates_level_check},
      {"P0218", {}, CodeClass::stop_first},
      {"P0217", {}, CodeClass::stop_first},
      {"P0705", {}, CodeClass::stop_first},
      {"P0722", {}, CodeClass::stop_first},
      {"U0100", {}, CodeClass::stop_first},
      {"U0402", {}, CodeClass::stop_first},
      {"P0562", {}, CodeClass::stop_first},
      {"P0115", {}, CodeClass::affects_warm_up},
      {"P0128", {}, CodeClass::affects_warm_up},
      {"P0113", {}, CodeClass::affects_warm_up},
      {"P0897", {}, CodeClass::reason_to_service},
      {"B0001", {}, CodeClass::unrelated},
      {"B3FFF", {}, CodeClass::unrelated},
      {"C0035", {}, CodeClass::unrelated},
      {"P0700", {}, CodeClass::decide_first},
      {"SPN 177", {}, CodeClass::invalidates_level_check},
      {"SPN 177", 3, CodeClass::invalidates_level_check},
      {"SPN 177", 0, CodeClass::stop_first},  // SAE J1939-73, FMI 0: above normal, so the sensor is sound
      {"SPN 126", 16, CodeClass::reason_to_service},
      {"SPN 126", 10, CodeClass::unknown},
  };
  for (const Row& row : rows)
    EXPECT_EQ(text_of(shipped().find(row.code, row.detail).code_class), text_of(row.code_class)) << row.code;
}

TEST(GenericCodes, LeaveTheMakersOwnCodesUnknown) {
  // SAE J2012: P1xxx and P3000-P33FF are controlled by the maker.
  for (const char* code : {"P1799", "P1000", "P30AB", "P33FF", "U1000"}) {
    const CodeMeaning meaning = shipped().find(code);
    EXPECT_EQ(meaning.text, kUnknownCodeText) << code;
    EXPECT_EQ(meaning.code_class, CodeClass::unknown) << code;
  }
}

TEST(GenericCodes, OnlyBodyAndChassisAreUnrelated) {
  for (std::uint32_t code = 0; code <= 0xFFFF; ++code) {
    const J2012Code one{static_cast<std::uint16_t>(code), std::nullopt};
    const std::string text = text_of(one);
    EXPECT_EQ(shipped().find(one).code_class == CodeClass::unrelated, text[0] == 'B' || text[0] == 'C')
        << text;
  }
}

TEST(GenericCodes, EveryCodeThatIsDescribedIsClassed) {
  ASSERT_EQ(shipped().files().size(), 1U);
  for (const CodeText& one : shipped().files()[0].texts) {
    const bool spn = one.code.form == CodeRange::Form::spn;
    if (spn) continue;  // the FMI decides
    const J2012Code code{static_cast<std::uint16_t>(one.code.first), std::nullopt};
    EXPECT_NE(shipped().find(code).code_class, CodeClass::unknown) << text_of(code);
  }
}

TEST(GenericCodes, MeanWhatTheStandardSays) {
  // P0710…P0714, P0218, P0700: SAE J2012; P0700 and the list of fluid temperature codes also in public lists.
  EXPECT_EQ(shipped().find("P0711").text, "fluid temperature sensor A: signal implausible");
  EXPECT_EQ(shipped().find("P0712").text, "fluid temperature sensor A: signal too low");
  EXPECT_EQ(shipped().find("P0713").text, "fluid temperature sensor A: signal too high");
  EXPECT_EQ(shipped().find("P0218").text, "transmission fluid too hot");
  EXPECT_EQ(shipped().find("P0700").text, "the transmission's control unit asks for the warning lamp");
  EXPECT_EQ(shipped().find("SPN 177").text, "transmission oil temperature");
}

TEST(GenericCodes, NoTextOfTheStandardIsCalledCertainWithoutANote) {
  for (const CodeText& one : shipped().files()[0].texts) {
    EXPECT_EQ(one.origin, Origin::standard);
    EXPECT_NE(one.origin_note.find("from memory"), std::string::npos) << one.text;
  }
}

}  // namespace
}  // namespace sumplog
