#include "core/codes/code_answer.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string_view>

#include "core/isotp/frames.h"

namespace sumplog {
namespace {

using isotp_words::bytes;
using testing::ElementsAre;
using testing::IsEmpty;

Result<CodeAnswer, std::string> read(std::string_view asked, std::string_view response,
                                     CodeFormat format = CodeFormat::j2012) {
  const auto question = bytes(asked);
  EXPECT_TRUE(asks_for_codes(question));
  return read_code_answer(question, bytes(response), format);
}

template <class T>
T as(const Result<CodeAnswer, std::string>& answer) {
  EXPECT_TRUE(answer) << answer.error();
  return answer ? std::get<T>(*answer) : T{};
}

ListedCode code(const char* text, const char* raw, std::optional<std::uint8_t> status = std::nullopt) {
  return {text, raw, status};
}

// Normal

TEST(CodeAnswer, StoredCodesAreCountedAndListed) {
  // 43 04 0711 0218 C100 9234 and its codes as scapy (scapy.contrib.automotive.obd) decodes them.
  EXPECT_THAT(as<CodeList>(read("03", "43 04 0711 0218 C100 9234")).codes,
              ElementsAre(code("P0711", "0711"), code("P0218", "0218"), code("U0100", "C100"),
                          code("B1234", "9234")));
  EXPECT_THAT(as<CodeList>(read("07", "47 01 0741")).codes, ElementsAre(code("P0741", "0741")));
  EXPECT_THAT(as<CodeList>(read("0A", "4A 00")).codes, IsEmpty());
}

TEST(CodeAnswer, CodesByStatusMaskComeWithTheirStatus) {
  // ISO 14229-1 worked example of ReadDTCInformation, as in driftregion/iso14229 test/test_server.c.
  EXPECT_THAT(as<CodeList>(read("19 02 84", "59 02 7F 0A9B17 24 080511 2F")).codes,
              ElementsAre(code("P0A9B-17", "0A9B17", 0x24), code("P0805-11", "080511", 0x2F)));
}

TEST(CodeAnswer, NoMatchIsAnEmptyList) {
  EXPECT_THAT(as<CodeList>(read("19 02 01", "59 02 7F")).codes, IsEmpty());  // driftregion/iso14229
}

TEST(CodeAnswer, TheCountTellsTheFormat) {
  const auto count = as<CodeCount>(read("19 01 08", "59 01 2F 01 00 01"));  // driftregion/iso14229
  EXPECT_EQ(count.format, 1);
  EXPECT_EQ(count.count, 1);
  EXPECT_EQ(code_format(1), CodeFormat::j2012);
  EXPECT_EQ(code_format(2), CodeFormat::j1939_73);
}

TEST(CodeAnswer, SupportedCodesAreListed) {
  EXPECT_THAT(
      as<CodeList>(read("19 0A", "59 0A 7F 123456 24 234505 00 ABCD01 2F")).codes,  // driftregion/iso14229
      ElementsAre(code("P1234-56", "123456", 0x24), code("P2345-05", "234505", 0x00),
                  code("B2BCD-01", "ABCD01", 0x2F)));
}

TEST(CodeAnswer, SnapshotAndExtendedRecordsAreKeptAsTheyCame) {
  // driftregion/iso14229 test/test_server.c
  const auto snapshot = as<CodeRecords>(read("19 04 123456 02", "59 04 123456 24 02 01 4711 A666075020"));
  EXPECT_EQ(snapshot.code, code("P1234-56", "123456", 0x24));
  EXPECT_EQ(snapshot.bytes, bytes("02 01 4711 A666075020"));
  const auto extended = as<CodeRecords>(read("19 06 123456 FF", "59 06 123456 24 05 17 10 79"));
  EXPECT_EQ(extended.bytes, bytes("05 17 10 79"));
  EXPECT_THAT(as<CodeRecords>(read("19 06 123456 FF", "59 06 123456 24")).bytes, IsEmpty());
}

TEST(CodeAnswer, SpnAndFmiOfAUnitThatWritesThemSo) {
  // B1 00 03: SPN 177, FMI 3 (SAE J1939-73, as laid out by canboat and docs.rs/j1939)
  EXPECT_THAT(as<CodeList>(read("19 02 AF", "59 02 FF B10003 08", CodeFormat::j1939_73)).codes,
              ElementsAre(code("SPN 177 FMI 3", "B10003", 0x08)));
}

TEST(CodeAnswer, AFreezeFrameNamesItsCode) {
  const auto frozen = as<FrozenCode>(read("02 02 00", "42 02 00 0711"));
  ASSERT_TRUE(frozen.code);
  EXPECT_EQ(frozen.code->code, "P0711");
  EXPECT_FALSE(as<FrozenCode>(read("02 02 00", "42 02 00 0000")).code);  // SAE J1979: 0000 = none stored
}

TEST(CodeAnswer, AFreezeFrameHoldsSeveralValues) {
  const auto frozen = as<FrozenValues>(read("02 05 00 0C 00", "42 05 00 7B 0C 00 1AF8"));
  EXPECT_THAT(frozen.values, ElementsAre(std::pair{std::uint8_t{0x05}, bytes("7B")},
                                         std::pair{std::uint8_t{0x0C}, bytes("1AF8")}));
}

TEST(CodeAnswer, MonitorsSayWhichTestsAreComplete) {
  // SAE J1979 PID 01, from memory: lamp on, two codes; misfire and components complete, fuel system not.
  const auto status = as<MonitorStatus>(read("01 01", "41 01 82 27 21 20"));
  EXPECT_TRUE(status.warning_lamp);
  EXPECT_EQ(status.stored, 2);
  EXPECT_THAT(
      status.monitors,
      ElementsAre(MonitorStatus::Monitor{"misfire", true}, MonitorStatus::Monitor{"fuel system", false},
                  MonitorStatus::Monitor{"components", true}, MonitorStatus::Monitor{"catalyst", true},
                  MonitorStatus::Monitor{"oxygen sensor", false}));
  const auto diesel = as<MonitorStatus>(read("01 01", "41 01 00 0F 41 40"));
  EXPECT_FALSE(diesel.warning_lamp);
  EXPECT_EQ(diesel.monitors[3].name, "NMHC catalyst");
  EXPECT_EQ(diesel.monitors[4], (MonitorStatus::Monitor{"particulate filter", false}));
}

TEST(CodeAnswer, ABitWithoutAMeaningIsNoMonitor) {
  // SAE J1979 PID 01, from memory: with compression ignition two bits of the third byte have no name.
  const auto diesel = as<MonitorStatus>(read("01 01", "41 01 00 08 FF 00"));
  EXPECT_EQ(diesel.monitors.size(), 6U);
}

// Edges and errors

TEST(CodeAnswer, TheLongestListIsRead) {
  std::string response = "43 FF";
  for (int i = 0; i < 255; ++i) response += " 0711";
  EXPECT_EQ(as<CodeList>(read("03", response)).codes.size(), 255U);
}

TEST(CodeAnswer, OtherQuestionsAreNotAboutCodes) {
  for (const char* asked :
       {"", "01 05", "01 01 05", "09 02", "22 F190", "19", "19 02", "19 03", "19 14", "04", "14 FF FF FF"})
    EXPECT_FALSE(asks_for_codes(bytes(asked))) << asked;
}

TEST(CodeAnswer, ALengthThatCannotBeIsNoList) {
  for (const auto& [asked, response] : {std::pair{"03", "43"},
                                        {"03", "43 01"},
                                        {"03", "43 02 0711"},
                                        {"03", "43 01 0711 0218"},
                                        {"03", "43 01 07"},
                                        {"19 02 AF", "59 02"},
                                        {"19 02 AF", "59 02 7F 0A9B17"},
                                        {"19 01 AF", "59 01 2F 01 00"},
                                        {"19 04 123456 FF", "59 04 1234"},
                                        {"02 02 00", "42 02 00 07"},
                                        {"02 05 00", "42 05 00"},
                                        {"02 02", "42 02 00 0711"},
                                        {"02 02 00", "42 02"},
                                        {"02 F0 00", "42 F0 00 01"},
                                        {"02 05 00 0C 00", "42 05 00 7B 0C 01 1AF8"},
                                        {"01 01", "41 01 82"}}) {
    const auto answer = read(asked, response);
    ASSERT_FALSE(answer) << asked << " / " << response;
    EXPECT_EQ(answer.error(), "answer about fault codes has a length that it cannot have");
  }
}

TEST(CodeAnswer, AnAnswerToAnotherSubFunctionIsNotTaken) {
  const auto answer = read("19 02 AF", "59 0A 7F 123456 24");
  ASSERT_FALSE(answer);
  EXPECT_EQ(answer.error(), "answer to another sub-function of service 19");
  EXPECT_FALSE(read("19 02 AF", "59"));
}

}  // namespace
}  // namespace sumplog
