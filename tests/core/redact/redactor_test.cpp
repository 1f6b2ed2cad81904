#include "core/redact/redactor.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <array>

#include "core/item/json_line.h"
#include "core/job/setting.h"
#include "core/journal/flow_run.h"
#include "redact_run.h"

namespace sumplog {
namespace {

using namespace sumplog::testing;
using std::chrono::milliseconds;
using std::chrono::seconds;
using ::testing::Each;
using ::testing::HasSubstr;
using ::testing::Not;

// Invented; the check digit holds (49 CFR 565.15(c)).
constexpr char kVin[] = "7ZZBK4GT2SHLM8261";
constexpr char kOther[] = "7ZZBK4GT2SHLM8262";

std::string hex(std::string_view text) {
  return hex_text(reinterpret_cast<const std::uint8_t*>(text.data()), text.size());
}

class JobWithSecrets : public JobScript {
 public:
  using JobScript::JobScript;
  /// Service 09 02 and its answer, in three frames (SAE J1979, ISO 15765-2).
  JobWithSecrets& vin_answer(const std::string& vin, std::uint32_t id = 0x7E8) {
    frame(standard_id(0x7DF), "020902CCCCCCCCCC").wait(milliseconds{10});
    first_and_more(id, "490201" + hex(vin));
    return *this;
  }
  /// A message of more than one frame: first frame, consecutive frames.
  JobWithSecrets& first_and_more(std::uint32_t id, const std::string& payload) {
    const std::size_t bytes = payload.size() / 2;
    const std::array<std::uint8_t, 2> head{static_cast<std::uint8_t>(0x10 | bytes >> 8),
                                           static_cast<std::uint8_t>(bytes)};
    frame(standard_id(id), hex_text(head.data(), head.size()) + payload.substr(0, 12)).wait(milliseconds{2});
    int number = 1;
    for (std::size_t at = 12; at < payload.size(); at += 14, ++number) {
      std::string data = "2" + std::string(1, "0123456789ABCDEF"[number % 16]) + payload.substr(at, 14);
      data.resize(16, 'C');
      frame(standard_id(id), data).wait(milliseconds{2});
    }
    wait(milliseconds{200});
    return *this;
  }
  JobWithSecrets& enter(const std::string& name, const std::string& fields) {
    item(Entry{now(), "client-" + std::to_string(++entries_), name, fields});
    wait(milliseconds{100});
    return *this;
  }

 private:
  int entries_ = 0;
};

JobWithSecrets whole_job() {
  JobWithSecrets job;
  job.enter(
      "intake",
      R"({"plate":"AB-CD 4711","vin":")" + std::string(kVin) +
          R"(","odometer_km":84210,"customer":"Wilma Exampler","complaint":"jerks since Wilma came back",)"
          R"("technician":"K. Testmann","transmission":"converter","fluid":"ATF AB-CD 4711 spec","by":"K. Testmann"})");
  job.vin_answer(kVin);
  for (int i = 0; i < 40; ++i) job.fluid(30 + i / 4).wait(milliseconds{500});
  job.enter("stage_begun", R"({"stage":"drain and parts"})")
      .enter("fluid_out", R"({"litres":4.5,"temp_c":38,"container":"can of Exampler","part":"drain"})")
      .enter("note", R"({"text":"called Wilma Exampler, abcd4711"})")
      .enter("photo", R"({"file":"abcd4711.jpg","sha256":"00","of":"plate"})")
      .enter("open_item", R"({"item":"ring Wilma","text":"0123 456"})")
      .enter("open_item_done", R"({"item":"ring Wilma","by":"Testmann"})")
      .enter("something_new", R"({"text":"Exampler","n":3,"deep":{"plate":"AB-CD 4711"}})");
  job.item(End{job.now()});
  return job;
}

// --- nothing that names stays ---

TEST(Redactor, NeitherPlateNorVinNorNameStandsInTheCopy) {
  const auto copy = redact(whole_job().items());
  ASSERT_EQ(copy.fault, "");
  const std::string text = file_text_of(copy.items);
  const std::string before = file_text_of(whole_job().items());
  for (const std::string& secret : {std::string("AB-CD 4711"), std::string("ABCD4711"), std::string("WILMA"),
                                    std::string("EXAMPLER"), std::string("TESTMANN"), std::string(kVin),
                                    std::string("CLIENT-"), std::string("JERKS"), std::string("0123 456")}) {
    EXPECT_EQ(text.find(secret), std::string::npos) << secret;
    EXPECT_NE(before.find(secret), std::string::npos)
        << "the test looks for what was never there: " << secret;
  }
  EXPECT_EQ(text.find(hex(kVin)), std::string::npos);
  // No piece of it either: the longest that two invented texts share by chance is one or two characters.
  EXPECT_GE(longest_piece_in_a_frame(whole_job().items(), kVin), 7U);
  EXPECT_LE(longest_piece_in_a_frame(copy.items, kVin), 2U);
  EXPECT_NE(joined_by_identifier(whole_job().items()).find("BK4GT2SHLM8261"), std::string::npos);
  EXPECT_EQ(joined_by_identifier(copy.items).find("GT2SH"), std::string::npos);
}

TEST(Redactor, WhatTheWorkWasStays) {
  const auto copy = redact(whole_job().items());
  const std::string text = file_text_of(copy.items);
  for (const char* stays :
       {"\"LITRES\":4.5", "\"TEMP_C\":38", "\"PART\":\"DRAIN\"", "\"STAGE\":\"DRAIN AND PARTS\"",
        "\"ODOMETER_KM\":84210", "\"TRANSMISSION\":\"CONVERTER\"", "\"N\":3", "ATF XX-XX XXXX SPEC"})
    EXPECT_THAT(text, HasSubstr(stays));
  EXPECT_EQ(copy.count.photos, 1U);
  EXPECT_EQ(copy.count.vins, 1U);
}

TEST(Redactor, TheCopySaysThatItIsOneAndHasAnIdOfItsOwn) {
  const auto copy = redact(whole_job().items());
  const auto& settings = std::get<Settings>(copy.items.front());
  EXPECT_EQ(settings.job, kNewJob);
  EXPECT_THAT(settings.values, ::testing::Contains(::testing::Pair(std::string(setting::kRedacted), "yes")));
}

TEST(Redactor, OpenItemsAreStillThoseThatWereDone) {
  std::vector<std::string> items;
  for (const Item& item : redact(whole_job().items()).items)
    if (const auto* entry = std::get_if<Entry>(&item);
        entry != nullptr && entry->name.starts_with("open_item"))
      items.push_back(entry->fields);
  ASSERT_EQ(items.size(), 2U);
  EXPECT_EQ(items[0], R"({"item":"item 1","text":"removed"})");
  EXPECT_EQ(items[1], R"({"item":"item 1"})");
}

TEST(Redactor, AListOfTextsIsCoveredTextByText) {
  JobWithSecrets job;
  job.enter("intake", R"({"customer":"Wilma Exampler"})");
  job.enter(
      "verdict_shown",
      R"({"conditions":"not kept","why":["the engine was off","not ticked: called Wilma Exampler",7]})");
  std::string fields;
  for (const Item& item : redact(job.items()).items)
    if (const auto* entry = std::get_if<Entry>(&item); entry != nullptr && entry->name == "verdict_shown")
      fields = entry->fields;
  EXPECT_THAT(fields, HasSubstr(R"("why":["the engine was off",")"));
  EXPECT_THAT(fields, Not(HasSubstr("Wilma Exampler")));
  EXPECT_THAT(fields, Not(HasSubstr("7")));
}

TEST(Redactor, WhatIsNoObjectOrNothingThatIsKnownIsLeftOut) {
  JobWithSecrets job;
  job.enter("note", "[1]").enter("note", R"({"text":null})").enter("open_item", R"({"text":"ring"})");
  job.enter("open_item_done", R"({"item":"waste"})").enter("part_used", R"({"part":"filter"})");
  std::vector<std::string> fields;
  for (const Item& item : redact(job.items()).items)
    if (const auto* entry = std::get_if<Entry>(&item)) fields.push_back(entry->fields);
  EXPECT_THAT(fields, ::testing::ElementsAre("{}", "{}", R"({"text":"removed"})", R"({"item":"waste"})",
                                             R"({"part":"filter"})"));
}

TEST(Redactor, ARepeatedEntryStaysARepeatedEntry) {
  JobScript job;
  for (int i = 0; i < 2; ++i) job.item(Entry{job.now(), "same", "plug_out", "{}"}).wait(seconds{1});
  job.item(Entry{job.now(), "another", "plug_in", "{}"});
  std::vector<std::string> ids;
  for (const Item& item : redact(job.items()).items)
    if (const auto* entry = std::get_if<Entry>(&item)) ids.push_back(entry->id);
  EXPECT_THAT(ids, ::testing::ElementsAre("e1", "e1", "e2"));
}

// --- the comparison of typed and read VIN ---

struct Compared {
  std::string typed;
  std::string read;
};
Compared vins_in_copy(const std::string& typed, const std::string& read) {
  JobWithSecrets job;
  job.enter("intake", R"({"vin":")" + typed + "\"}").vin_answer(read);
  const auto copy = redact(job.items());
  Compared out;
  for (const VehicleEvent& event : FlowRun(copy.items).all<VehicleEvent>())
    if (!event.vin.empty()) out.read = event.vin;
  for (const Item& item : copy.items)
    if (const auto* entry = std::get_if<Entry>(&item)) out.typed = entry->fields;
  return out;
}

TEST(Redactor, ATypedVinThatFitsTheReadOneStillFits) {
  const auto copy = vins_in_copy(kVin, kVin);
  EXPECT_EQ(copy.read, "XXXXXXXX5XXXXXX00");
  EXPECT_EQ(copy.typed, R"({"vin":"XXXXXXXX5XXXXXX00"})");
}

TEST(Redactor, ATypedVinThatDiffersInOneCharacterStillDiffers) {
  const auto copy = vins_in_copy(kOther, kVin);
  EXPECT_EQ(copy.read.size(), 17U);
  EXPECT_EQ(copy.typed.find(copy.read), std::string::npos);
}

TEST(Redactor, BlanksAndSmallLettersOfATypedVinStayWhereTheyWere) {
  EXPECT_EQ(vins_in_copy("7zz bk4gt-2shlm8261", kVin).typed, R"({"vin":"xxx xxxxx-5xxxxxx00"})");
}

TEST(Redactor, TheEndOfAVinStaysTheEndOfIt) {
  EXPECT_EQ(vins_in_copy("M8261", kVin).typed, R"({"vin":"XXX00"})");
  EXPECT_EQ(vins_in_copy("M8269", kVin).typed, R"({"vin":"YYYY0"})");
}

TEST(Redactor, TheCheckDigitHoldsWhereItHeld) {
  for (const char* vin : {kVin, kOther}) {
    JobWithSecrets job;
    job.vin_answer(vin);
    const auto events = FlowRun(redact(job.items()).items).all<VehicleEvent>();
    const auto before = FlowRun(job.items()).all<VehicleEvent>();
    ASSERT_EQ(events.size(), before.size());
    EXPECT_EQ(events.back().vin_check_digit, before.back().vin_check_digit);
  }
}

// --- where VINs and serial numbers stand ---

std::string copied_bytes(const JobScript& job) {
  return joined_by_identifier(redact(job.items()).items);
}

TEST(Redactor, VinsInUdsAnswersAndInWhatAnotherTesterWrites) {
  for (const std::string& start : {std::string("62F190"), std::string("2EF190"), std::string("5A90")}) {
    JobWithSecrets job;
    job.first_and_more(start[0] == '2' ? 0x7E0 : 0x7E8, start + hex(kVin));
    EXPECT_GE(longest_piece_in_a_frame(job.items(), kVin), 7U) << start;
    EXPECT_LE(longest_piece_in_a_frame(redact(job.items()).items, kVin), 1U) << start;
  }
}

TEST(Redactor, AVinInTheMiddleOfAnAnswerToSeveralIdentifiers) {
  JobWithSecrets job;
  job.frame(standard_id(0x7E0), "0722F187F190F18C").wait(milliseconds{5});
  job.first_and_more(0x7E8,
                     "62F187" + hex("PART-77-A") + "F190" + hex(kVin) + "F18C" + hex("SN0815") + "0102");
  const auto copy = redact(job.items()).items;
  EXPECT_LE(longest_piece_in_a_frame(copy, kVin), 1U);
  EXPECT_THAT(joined_by_identifier(copy), Not(HasSubstr("815")));
  EXPECT_GE(longest_piece_in_a_frame(copy, "PART-77-A"), 5U) << "a part number is no secret";
}

TEST(Redactor, AnIdentifierThatWasNotAskedForIsNoVinBecauseItsBytesLookLikeOne) {
  JobWithSecrets job;
  job.frame(standard_id(0x7E1), "03221A05CCCCCCCC").wait(milliseconds{5});
  job.frame(standard_id(0x7E9), "07621A05F1904142");
  const auto copy = redact(job.items()).items;
  EXPECT_EQ(frames_of(copy).back(), frames_of(job.items()).back());
}

TEST(Redactor, SerialNumbersOfAUnitAndOfAWorkshop) {
  for (const char* identifier : {"F18C", "F198", "F183"}) {
    JobWithSecrets job;
    job.first_and_more(0x7E9, std::string("62") + identifier + hex("Serial-90817") + "12FF");
    const std::string bytes = copied_bytes(job);
    EXPECT_THAT(bytes, Not(HasSubstr("908")));
    EXPECT_EQ(bytes.find('\x12'), std::string::npos) << "binary ones too";
    EXPECT_THAT(bytes, HasSubstr("Xxxx")) << "its length and form stay";
  }
}

TEST(Redactor, TheVinOfJ1939InABroadcastAndTheIdentityNumberOfAName) {
  JobScript job;
  job.frame(extended_id(0x18ECFF00), "20120003FFECFE00").wait(milliseconds{50});
  const std::string payload = hex(std::string(kVin) + "*");
  for (int i = 0; i < 3; ++i) {
    std::string data = "0" + std::to_string(i + 1) + payload.substr(static_cast<std::size_t>(i) * 14, 14);
    data.resize(16, 'F');
    job.frame(extended_id(0x18EBFF00), data).wait(milliseconds{50});
  }
  job.frame(extended_id(0x18EEFF03), "5634720003030010");
  const auto copy = redact(job.items()).items;
  EXPECT_LE(longest_piece_in_a_frame(copy, kVin), 1U);
  const CanFrame name = frames_of(copy).back();
  EXPECT_EQ(hex_text(name.bytes.data(), 8),
            "0000600003030010");  // SAE J1939-81: 21 bits, then the manufacturer
}

TEST(Redactor, AUnitThatNobodyToldAVinStillSaysSo) {
  JobWithSecrets job;
  job.first_and_more(0x7E8, "490201" + std::string(34, 'F'));
  job.first_and_more(0x7E9, "490201" + hex(std::string(17, '0')));
  EXPECT_EQ(frames_of(redact(job.items()).items), frames_of(job.items()));
}

TEST(Redactor, PiecesOfAKnownVinInTheMakersOwnFrames) {
  // Three frames with a number in front, as many vehicles send it: 7 + 7 + 3 characters.
  JobScript job;
  job.item(Entry{job.now(), "a", "intake", R"({"vin":")" + std::string(kVin) + "\"}"});
  for (int i = 0; i < 3; ++i) {
    std::string data =
        "0" + std::to_string(i) + hex(std::string(kVin).substr(static_cast<std::size_t>(i) * 7, 7));
    data.resize(16, '0');
    job.frame(standard_id(0x5B5), data).wait(milliseconds{100});
  }
  job.frame(standard_id(0x123), "8261000000000000");
  const auto copy = redact(job.items()).items;
  EXPECT_LE(longest_piece_in_a_frame(copy, kVin), 1U);
  EXPECT_EQ(frames_of(copy).back(), frames_of(job.items()).back()) << "bytes of another frame are no VIN";
}

TEST(Redactor, WhatIsLeftOfABrokenTransferIsCoveredToo) {
  // First frame alone; consecutive frames alone, of a VIN that nobody knows.
  JobWithSecrets lost_end;
  lost_end.frame(standard_id(0x7E8), "1014490201" + hex("7ZZ")).wait(milliseconds{2});
  lost_end.frame(standard_id(0x7E8), "21" + hex("BK4GT2S")).wait(seconds{3});
  JobWithSecrets lost_beginning;
  lost_beginning.frame(standard_id(0x7E8), "21" + hex("BK4GT2S")).wait(milliseconds{2});
  lost_beginning.frame(standard_id(0x7E8), "22" + hex("HLM8261")).wait(seconds{3});
  JobWithSecrets out_of_order;
  out_of_order.frame(standard_id(0x7E8), "1014490201" + hex("7ZZ")).wait(milliseconds{2});
  out_of_order.frame(standard_id(0x7E8), "22" + hex("HLM8261")).wait(milliseconds{2});
  out_of_order.frame(standard_id(0x7E8), "21" + hex("BK4GT2S")).wait(seconds{3});
  for (const JobWithSecrets* job : {&lost_end, &lost_beginning, &out_of_order})
    EXPECT_LE(longest_piece_in_a_frame(redact(job->items()).items, kVin), 1U);
}

// --- decoder texts ---

TEST(Redactor, ADecodersCommentThatNamesTheCarIsCovered) {
  auto opening = demo_opening();
  std::get<DecoderText>(opening[2]).text +=
      "\n# captured on AB CD 4711 by Wilma Exampler, " + std::string(kVin) + "\n";
  JobWithSecrets job(opening);
  job.enter("intake",
            R"({"plate":"ab-cd-4711","customer":"Wilma Exampler","vin":")" + std::string(kVin) + "\"}");
  const auto copy = redact(job.items());
  EXPECT_EQ(copy.fault, "");
  EXPECT_THAT(std::get<DecoderText>(copy.items[2]).text,
              HasSubstr("# captured on xx xx xxxx by xxxxx xxxxxxxx, xxxxxxxxxxxxxxxxx\n"));
}

TEST(Redactor, ADecoderThatCannotBeReadAnyMoreIsAFault) {
  auto opening = demo_opening();
  JobWithSecrets job(opening);
  job.enter("intake", R"({"plate":"signal"})");
  EXPECT_THAT(redact(job.items()).fault, HasSubstr("a decoder in this job names"));
}

TEST(Redactor, WhatIsNoJobIsAFault) {
  JobScript script(std::vector<Item>{});
  script.frame(standard_id(0x7E8), "0102");
  EXPECT_THAT(redact(script.items()).fault, HasSubstr("not a job file"));
}

// --- what stands beside the secrets ---

TEST(Redactor, OfAnEntryNamedThingsYesAndNoStayAndAnItemOfNoListIsAText) {
  JobWithSecrets job;
  job.enter("open_item", R"({"item":"ring Wilma","text":"t"})");
  job.enter("open_item_signed_over", R"({"item":"ring Wilma"})");
  job.enter("note", R"({"item":"ring Wilma","urgent":true})");
  std::vector<std::string> fields;
  for (const Item& item : redact(job.items()).items)
    if (const auto* entry = std::get_if<Entry>(&item)) fields.push_back(entry->fields);
  EXPECT_THAT(fields, ::testing::ElementsAre(R"({"item":"item 1","text":"removed"})", R"({"item":"item 1"})",
                                             R"({"item":"removed","urgent":true})"));
}

TEST(Redactor, APositionOrAConditionThatTheServiceFileDoesNotHaveIsAText) {
  auto opening = demo_opening();
  for (Item& item : opening)
    if (auto* text = std::get_if<DecoderText>(&item); text != nullptr && text->name == "demo-9/service.toml")
      text->text +=
          "\n[by_hand]\nconditions = [\"level on the lift\", \"AB-CD 4711 stands level\"]\norigin = "
          "\"invented\"\n";
  JobWithSecrets job(opening);
  job.enter("intake", R"({"plate":"AB-CD 4711"})");
  job.enter("condition_ticked", R"({"condition":"Smith of AB 1 agreed 0123","holds":true})");
  job.enter("condition_ticked", R"({"condition":"level on the lift"})");
  job.enter("condition_ticked", R"({"condition":"AB-CD 4711 stands level"})");
  job.enter("position_held", R"({"position":"as Smith said","s":3})");
  job.enter("position_held", R"({"position":"R","s":3})");
  const auto copy = redact(job.items());
  std::vector<std::string> fields;
  for (const Item& item : copy.items)
    if (const auto* entry = std::get_if<Entry>(&item); entry != nullptr && entry->name != "intake")
      fields.push_back(entry->fields);
  EXPECT_EQ(copy.fault, "");
  EXPECT_THAT(fields, ::testing::ElementsAre(R"({"condition":"removed","holds":true})",
                                             R"({"condition":"level on the lift"})",
                                             R"({"condition":"xx-xx xxxx stands level"})",
                                             R"({"position":"removed","s":3})", R"({"position":"R","s":3})"));
  EXPECT_THAT(file_text_of(copy.items), HasSubstr("\"XX-XX XXXX STANDS LEVEL\"]"))
      << "as in the copy's service file";
}

TEST(Redactor, WithoutASelectorInTheServiceFileAPositionIsAWordOfTheDecoder) {
  auto opening = demo_opening();
  for (Item& item : opening)
    if (auto* text = std::get_if<DecoderText>(&item); text != nullptr && text->name == "demo-9/service.toml")
      text->text =
          "format = 1\nid = \"demo-9\"\ntitle = \"x\"\n[window]\nlow_c = 35\nhigh_c = 45\norigin = "
          "\"invented\"\n";
  JobWithSecrets job(opening);
  job.enter("position_held", R"({"position":"as Smith said","s":3})");
  job.enter("position_held", R"({"position":"R","s":3})");
  std::vector<std::string> fields;
  for (const Item& item : redact(job.items()).items)
    if (const auto* entry = std::get_if<Entry>(&item)) fields.push_back(entry->fields);
  EXPECT_THAT(fields, ::testing::ElementsAre(R"({"position":"removed","s":3})", R"({"position":"R","s":3})"));
}

TEST(Redactor, AVinThatAUnitTellsInSmallLettersIsOneToo) {
  JobWithSecrets job;
  job.vin_answer("7zzbk4gt2shlm8261");
  const auto copy = redact(job.items());
  EXPECT_GE(longest_piece_in_a_frame(job.items(), kVin), 7U);
  EXPECT_LE(longest_piece_in_a_frame(copy.items, kVin), 1U);
  EXPECT_EQ(copy.count.vins, 1U);
}

TEST(Redactor, APieceWithoutABeginningOfAUnitThatNamesNobodyStays) {
  // Nobody knows what the second message was; the unit's first one held neither VIN nor serial number.
  JobWithSecrets job;
  job.first_and_more(0x7E9, "621A05" + hex("GEARBOX-7"));
  job.frame(standard_id(0x7E9), "21" + hex("GEAR") + "0102").wait(seconds{3});
  EXPECT_EQ(frames_of(redact(job.items()).items), frames_of(job.items()));
}

TEST(Redactor, OfAPieceWithoutABeginningWhatIsNoCharacterStays) {
  JobWithSecrets job;
  job.frame(standard_id(0x7E9), "21" + hex("AB7") + "0102").wait(seconds{3});
  const CanFrame copy = frames_of(redact(job.items()).items).back();
  EXPECT_EQ(hex_text(copy.bytes.data(), copy.length), "21" + hex("XX0") + "0102");
}

TEST(Redactor, FewDigitsOfAVinAreANumberLikeAnyOther) {
  JobScript job;
  job.item(
      Entry{job.now(), "a", "intake", R"({"vin":"1M8GDM9AXKP042788"})"});  // the worked example of 49 CFR 565
  job.frame(standard_id(0x123), hex("42788") + "00").wait(milliseconds{100});
  job.frame(standard_id(0x124), hex("042788") + "00");
  const auto frames = frames_of(redact(job.items()).items);
  EXPECT_EQ(frames[0], frames_of(job.items())[0]);
  EXPECT_EQ(hex_text(frames[1].bytes.data(), frames[1].length), hex("XXXX00") + "00");
}

TEST(Redactor, AKnownVinInAMessageThatTheEndOfTheJobCutOff) {
  JobWithSecrets job;
  job.item(Entry{job.now(), "a", "intake", R"({"vin":")" + std::string(kVin) + "\"}"});
  job.frame(standard_id(0x7E8), "1020621A05" + hex("7ZZ")).wait(milliseconds{2});
  job.frame(standard_id(0x7E8), "21" + hex("BK4") + "00000000");
  const auto copy = redact(job.items()).items;
  EXPECT_LE(longest_piece_in_a_frame(copy, kVin), 1U) << "six characters in two frames";
}

TEST(Redactor, AKnownVinInAGroupOfJ1939IsCoveredWhateverTheGroupIs) {
  JobScript job;
  job.item(Entry{job.now(), "a", "intake", R"({"vin":")" + std::string(kVin) + "\"}"});
  // SAE J1939-21: FF00…FFFF are the maker's own groups.
  job.frame(extended_id(0x18FF0103), "01" + hex("7ZZBK4G")).wait(milliseconds{100});
  job.frame(extended_id(0x18FF0103), "02" + hex("T2SHLM8")).wait(milliseconds{100});
  job.frame(extended_id(0x18FF0103), "03" + hex("261") + "FFFFFFFF");
  EXPECT_LE(longest_piece_in_a_frame(redact(job.items()).items, kVin), 1U)
      << "the last piece is three digits: known by the identifier that carried the others";
}

TEST(Redactor, FramesWithoutDataStayAndMoveNoFrameAfterThem) {
  JobWithSecrets job;
  for (const FrameKind kind : {FrameKind::remote, FrameKind::error}) {
    CanFrame frame = data_frame(job.now(), BusName("can0"), standard_id(0x7E8), {});
    frame.kind = kind;
    job.item(frame).wait(milliseconds{10});
  }
  job.vin_answer(kVin);
  const auto copy = redact(job.items());
  const auto before = frames_of(job.items());
  const auto after = frames_of(copy.items);
  ASSERT_EQ(after.size(), before.size());
  EXPECT_EQ(after[0], before[0]);
  EXPECT_EQ(after[1], before[1]);
  EXPECT_LE(longest_piece_in_a_frame(copy.items, kVin), 1U);
  EXPECT_EQ(copy.count.frames, 3U);
}

TEST(Redactor, WhatCouldNotBeReadIsNotCopied) {
  JobScript job;
  job.item(Torn{job.now(), 12}).item(Unreadable{job.now(), 9, "7ZZBK4GT2SHLM8261"}).item(End{job.now()});
  const auto copy = redact(job.items());
  EXPECT_EQ(copy.fault, "");
  EXPECT_EQ(copy.items.size(), job.items().size() - 2);
  EXPECT_TRUE(std::holds_alternative<End>(copy.items.back()));
}

}  // namespace
}  // namespace sumplog
