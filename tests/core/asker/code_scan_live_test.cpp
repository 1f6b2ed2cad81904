#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <chrono>
#include <map>
#include <set>

#include "core/asker/live_vehicle.h"
#include "core/codes/code_sheet.h"
#include "core/decoder/folders.h"
#include "core/item/entry_names.h"
#include "core/item/json_line.h"
#include "core/journal/wrapped_text.h"

namespace sumplog::testing {
namespace {

using namespace std::chrono_literals;
using ::testing::Contains;
using ::testing::Each;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::Not;

std::string text_of_file(const std::string& name) {
  return file_text(std::string(SUMPLOG_SOURCE) + "/" + name);
}

/// With the meaning of codes, and a decoder that names every unit of the scenarios.
std::vector<Item> opening() {
  std::vector<Item> items{Settings{kJobStart, "job", "program", "", {}}};
  for (const char* name : {"obd-generic/signals.toml", "obd-generic/codes.toml"})
    items.push_back(DecoderText{kJobStart, name, text_of_file(std::string("decoders/") + name)});
  items.push_back(DecoderText{kJobStart, "named-units/signals.toml",
                              text_of_file("tests/scan/named-units/signals.toml")});
  return items;
}

class ScanLive {
 public:
  explicit ScanLive(const std::string& scenario, std::vector<Item> header = opening())
      : car_(scenario_from(scenario), std::move(header)) {}
  /// Scans, until the scan has ended.
  void scan() {
    car_.enter(std::string(kScanEntry));
    for (int i = 0; i < 1200 && car_.all<ScanEvent>().empty(); ++i) car_.run_for(250ms);
  }
  std::map<std::string, std::set<std::string>> codes() const {
    std::map<std::string, std::set<std::string>> found;
    for (const CodesEvent& event : car_.all<CodesEvent>())
      if (event.codes)
        for (const CodeLine& code : *event.codes) found[event.ecu].insert(code.code);
    return found;
  }
  ScanEvent whole() const {
    const auto scans = car_.all<ScanEvent>();
    EXPECT_EQ(scans.size(), 1U);
    return scans.empty() ? ScanEvent{} : scans.front();
  }
  LiveVehicle& car() { return car_; }

 private:
  LiveVehicle car_;
};

TEST(CodeScanLive, ReadsEveryCodeAndNamesTheUnitThatNeverAnswers) {
  ScanLive live(text_of_file("tests/scan/three-units-11-bit.toml"));
  live.car().run_for(2s);
  live.scan();
  const auto codes = live.codes();
  EXPECT_THAT(codes.at("7E8"), ElementsAre("P0128", "P0562", "P0700"));
  EXPECT_THAT(codes.at("7E9"), ElementsAre("P0218-00", "P0711", "P0711-1F", "P0731", "P0731-00", "P0741",
                                           "P0741-00", "P0897", "P0897-00", "P1799", "P1799-00"));
  EXPECT_THAT(codes.at("7EA"), ElementsAre("B1234-11", "C0035-13", "U0101-87"));
  const ScanEvent whole = live.whole();
  EXPECT_FALSE(whole.complete);
  EXPECT_THAT(whole.why, ElementsAre("7EB (selector) did not answer"));
  EXPECT_THAT(whole.silent, ElementsAre("7EB (selector)"));
  EXPECT_THAT(whole.answered, ElementsAre("7E8 (engine)", "7E9 (transmission)", "7EA (brakes)"));
  EXPECT_TRUE(whole.supply_low_v);
}

TEST(CodeScanLive, ReadsFreezeFrameSnapshotAndExtendedData) {
  ScanLive live(text_of_file("tests/scan/three-units-11-bit.toml"));
  live.scan();
  std::set<std::string> frozen;
  std::map<std::string, std::string> records;
  for (const CodesEvent& event : live.car().all<CodesEvent>()) {
    for (const ReadingEvent& value : event.frozen)
      if (event.ecu == "7E8") frozen.insert(value.signal + " " + fixed(value.value.value_or(-1), 0));
    if (!event.record.empty()) records[event.service + " " + event.code] = event.record;
  }
  EXPECT_THAT(frozen, ElementsAre("coolant_temperature 35", "engine_speed 700", "vehicle_speed 50"));
  EXPECT_EQ(records["19 04 P0711-1F"], "01011A0578");
  EXPECT_EQ(records["19 06 P0711-1F"], "010710002A");
}

TEST(CodeScanLive, TwentyNineBitUnitsAreFoundWithoutADecoder) {
  std::vector<Item> header = opening();
  header.pop_back();
  ScanLive live(text_of_file("tests/scan/three-units-29-bit.toml"), header);
  live.car().run_for(2s);
  live.scan();
  std::size_t units = 0;
  for (const auto& [ecu, list] : live.codes()) units += ecu.starts_with("18DAF1") && !list.empty() ? 1 : 0;
  EXPECT_EQ(units, 3U);
  EXPECT_TRUE(live.whole().complete) << "nobody names the unit that never answers: "
                                     << joined(live.whole().why, "; ");
}

/// Two of the four units moved to where only a range of the decoder leads.
std::string moved_units() {
  std::string text = text_of_file("tests/scan/three-units-11-bit.toml");
  const auto move = [&](const std::string& from, const std::string& to) {
    for (std::size_t at = text.find(from); at != std::string::npos; at = text.find(from, at + to.size()))
      text.replace(at, from.size(), to);
  };
  move("0x7E2", "0x70A");
  move("0x7EA", "0x72A");
  return text;
}

std::vector<Item> opening_with_range(const std::string& range) {
  std::vector<Item> header = opening();
  auto& text = std::get<DecoderText>(header.back()).text;
  for (const std::string unit : {"brakes", "selector"}) {
    const std::size_t at = text.find("[[ecu]]\nid = \"" + unit);
    text.erase(at, text.find("\n\n", at) - at);
  }
  text.insert(text.find("[[signal]]"), range);
  return header;
}

TEST(CodeScanLive, AUnitInARangeOfADecoderIsFoundAndNobodyElseIsMissedThere) {
  const auto header = opening_with_range("[[range]]\nfirst = 0x700\nlast = 0x71F\nanswer_offset = 0x20\n\n");
  ScanLive live(moved_units(), header);
  live.car().run_for(2s);
  live.scan();
  EXPECT_THAT(live.codes().at("72A"), ElementsAre("B1234-11", "C0035-13", "U0101-87"));
  const ScanEvent whole = live.whole();
  EXPECT_TRUE(whole.complete) << joined(whole.why, "; ");
  EXPECT_THAT(whole.answered, ElementsAre("72A", "7E8 (engine)", "7E9 (transmission)"));
  EXPECT_THAT(whole.silent, IsEmpty());
  EXPECT_THAT(whole.asked, Contains("1901AF of 700 to 71F, 7E0 to 7E7"));
  live.car().run_for(2s);  // the last questions are open for a second
  for (const LossEvent& loss : live.car().all<LossEvent>()) ADD_FAILURE() << journal_line(loss);
}

TEST(CodeScanLive, ARangeThatNobodyNamesIsNotAsked) {
  ScanLive live(moved_units(), opening_with_range(""));
  live.car().run_for(2s);
  live.scan();
  EXPECT_FALSE(live.codes().contains("72A"));
}

TEST(CodeScanLive, TheJournalIsTheOneOfTheReplayedRecord) {
  ScanLive live(text_of_file("tests/scan/three-units-11-bit.toml"));
  live.scan();
  live.car().run_for(1s);
  std::vector<std::string> lines;
  for (const CodesEvent& event : live.car().all<CodesEvent>()) lines.push_back(journal_line(event));
  FlowRun replayed(live.car().items());
  std::vector<std::string> again;
  for (const std::string& line : replayed.lines())
    if (line.find(R"("kind":"codes")") != std::string::npos && line.find(R"("asked")") == std::string::npos)
      again.push_back(line);
  EXPECT_EQ(again, lines);
}

TEST(CodeScanLive, ARecordCutAnywhereIsNeverAWholeScan) {
  ScanLive live(text_of_file("tests/scan/three-units-29-bit.toml"));
  live.scan();
  const std::vector<Item>& items = live.car().items();
  std::size_t begun = 0;
  std::size_t ended = 0;
  for (std::size_t i = 0; i < items.size(); ++i)
    if (const auto* mark = std::get_if<ScanMark>(&items[i])) (mark->begun ? begun : ended) = i;
  ASSERT_GT(ended, begun);
  const std::size_t every = std::max<std::size_t>(1, (ended - begun) / 40);
  for (std::size_t cut = begun + 1; cut < ended; cut += every) {
    std::vector<Item> part(items.begin(), items.begin() + static_cast<std::ptrdiff_t>(cut));
    part.push_back(End{time_of(part.back())});
    FlowRun run(part);
    bool said = false;
    for (const std::string& line : run.lines()) {
      if (line.find(R"("asked")") == std::string::npos) continue;
      said = true;
      EXPECT_THAT(line, HasSubstr(R"("complete":false)")) << "cut at " << cut;
      EXPECT_THAT(line, HasSubstr("the recording ended"));
    }
    EXPECT_TRUE(said) << "cut at " << cut;
  }
}

TEST(CodeScanLive, EveryFrameOfTheScanLostAloneIsMadeGoodOrSaid) {
  ScanLive live(text_of_file("tests/scan/three-units-11-bit.toml"));
  live.scan();
  const std::vector<Item>& items = live.car().items();
  const auto codes_of = [](const std::vector<Item>& part) {
    std::set<std::string> codes;
    const FlowRun run(part);
    for (const std::string& line : run.lines())
      for (std::size_t at = 0; (at = line.find(R"("code":")", at)) != std::string::npos; ++at)
        codes.insert(line.substr(at, 20));
    return codes;
  };
  const auto all = codes_of(items);
  int walked = 0;
  for (std::size_t i = 0; i < items.size(); ++i) {
    const auto* frame = std::get_if<CanFrame>(&items[i]);
    if (frame == nullptr || frame->id.extended || frame->id.value < 0x7E8 || frame->id.value > 0x7EA)
      continue;
    if (++walked % 7 != 0) continue;  // every seventh: the walk is long
    std::vector<Item> part = items;
    part.erase(part.begin() + static_cast<std::ptrdiff_t>(i));
    for (const std::string& code : codes_of(part))
      EXPECT_TRUE(all.contains(code)) << code << " was invented, frame " << i;
  }
  EXPECT_GT(walked, 30);
}

TEST(CodeScanLive, NothingThatClearsOrOpensASessionEverLeaves) {
  ScanLive live(text_of_file("tests/scan/three-units-11-bit.toml"));
  live.scan();
  const std::set<std::uint8_t> reading{0x01, 0x02, 0x03, 0x07, 0x09, 0x0A, 0x19, 0x22};
  for (const CanFrame& frame : live.car().sent()) {
    if (frame.bytes[0] >> 4 == 3) continue;  // flow control
    EXPECT_EQ(frame.bytes[0] >> 4, 0) << "single frames only";
    EXPECT_TRUE(reading.contains(frame.bytes[1])) << hex_text(frame.bytes.data(), frame.length);
  }
}

TEST(CodeScanLive, WithThePlugOutNothingIsScanned) {
  ScanLive live(text_of_file("tests/scan/three-units-11-bit.toml"));
  live.car().run_for(3s);
  live.car().enter(std::string(kPlugOut));
  const TimePoint out = live.car().now();
  live.car().enter(std::string(kScanEntry));
  live.car().run_for(5s);
  for (const CanFrame& frame : live.car().sent(out)) EXPECT_NE(frame.bytes[1], 0x03);
  EXPECT_THAT(live.whole().why, ElementsAre("no scan while the plug is out: put it in first"));
  for (const Item& item : live.car().items()) EXPECT_FALSE(std::holds_alternative<ScanMark>(item));
}

TEST(CodeScanLive, APlugThatIsEnteredLateChangesNothingThatHappenedAfterIt) {
  ScanLive live(text_of_file("tests/scan/three-units-11-bit.toml"));
  live.car().run_for(3s);
  live.car().enter(std::string(kPlugIn));
  live.car().run_for(1s);
  live.car().enter(std::string(kPlugOut), R"({"ago_s":60})");
  live.car().enter(std::string(kScanEntry));
  live.car().run_for(180s);
  EXPECT_THAT(live.whole().answered, Not(IsEmpty()));
  live.car().enter(std::string(kPlugOut));
  live.car().run_for(10s);
  live.car().enter(std::string(kPlugIn), R"({"ago_s":60})");
  const TimePoint still_out = live.car().now();
  live.car().enter(std::string(kScanEntry));
  live.car().run_for(5s);
  for (const CanFrame& frame : live.car().sent(still_out)) EXPECT_NE(frame.bytes[1], 0x03);
}

TEST(CodeScanLive, APlugThatComesOutEndsTheScan) {
  ScanLive live(text_of_file("tests/scan/three-units-29-bit.toml"));
  live.car().run_for(2s);
  live.car().enter(std::string(kScanEntry));
  live.car().run_for(1s);
  live.car().enter(std::string(kPlugOut));
  const TimePoint out = live.car().now();
  live.car().run_for(5s);
  EXPECT_FALSE(live.whole().complete);
  EXPECT_THAT(live.whole().why, Contains("the plug came out"));
  for (const CanFrame& frame : live.car().sent(out + 200ms)) EXPECT_NE(frame.bytes[1], 0x19);
}

// The end of the scan was not recorded then: it went on for ever, nothing was asked for it, and no other scan could begin.
TEST(CodeScanLive, APlugThatIsInAgainInTheSameMomentEndsTheScanToo) {
  ScanLive live(text_of_file("tests/scan/three-units-11-bit.toml"));
  live.car().run_for(2s);
  live.car().enter(std::string(kScanEntry), R"({"scan":"before"})");
  live.car().run_for(1s);
  live.car().enter(std::string(kPlugOut));
  live.car().enter(std::string(kPlugIn));
  live.car().run_for(5s);
  EXPECT_FALSE(live.whole().complete);
  EXPECT_THAT(live.whole().why, Contains("the plug came out"));
  live.car().enter(std::string(kScanEntry), R"({"scan":"after"})");
  live.car().run_for(180s);
  EXPECT_EQ(live.car().all<ScanEvent>().back().scan, "after");
  EXPECT_THAT(live.car().all<ScanEvent>().back().answered, Not(IsEmpty()));
}

std::vector<std::string> names_of(const LiveVehicle& car) {
  std::vector<std::string> names;
  for (const ScanEvent& scan : car.all<ScanEvent>()) names.push_back(scan.scan);
  return names;
}

// It was forgotten without a word, and `scan --job` of a job that is served waited for its end.
TEST(CodeScanLive, AScanThatIsAskedForDuringAnotherWaitsForItsTurnAndIsNotDoneTwice) {
  ScanLive live(text_of_file("tests/scan/three-units-11-bit.toml"));
  live.car().run_for(2s);
  live.car().enter(std::string(kScanEntry), R"({"scan":"before"})");
  live.car().run_for(1s);
  live.car().enter(std::string(kScanEntry), R"({"scan":"during"})");
  live.car().enter(std::string(kScanEntry), R"({"scan":"before"})");
  live.car().run_for(180s);
  EXPECT_THAT(names_of(live.car()), ElementsAre("before", "during"));
  EXPECT_EQ(live.car().all<ScanEvent>().back().answered, live.car().all<ScanEvent>().front().answered);
}

TEST(CodeScanLive, AScanThatWaitsUntilThePlugIsOutAsksNothing) {
  ScanLive live(text_of_file("tests/scan/three-units-11-bit.toml"));
  live.car().run_for(2s);
  live.car().enter(std::string(kScanEntry), R"({"scan":"before"})");
  live.car().run_for(1s);
  live.car().enter(std::string(kScanEntry), R"({"scan":"during"})");
  live.car().enter(std::string(kPlugOut));
  const TimePoint out = live.car().now();
  live.car().run_for(60s);
  EXPECT_THAT(names_of(live.car()), ElementsAre("before", "during"));
  EXPECT_THAT(live.car().all<ScanEvent>().back().why, Contains("the plug was out"));
  for (const CanFrame& frame : live.car().sent(out + 200ms))
    for (const unsigned service : {0x03U, 0x07U, 0x19U}) EXPECT_NE(frame.bytes[1], service);
}

TEST(CodeScanLive, AVehicleThatIsAsleepIsNotClean) {
  std::string scenario = text_of_file("tests/scan/three-units-11-bit.toml");
  for (const char* unit : {"engine", "transmission", "brakes"})
    scenario += std::string("\n[[event]]\nat_s = 0\nwhat = \"ecu_silent\"\necu = \"") + unit + "\"\n";
  ScanLive live(scenario);
  live.scan();
  EXPECT_FALSE(live.whole().complete);
  EXPECT_THAT(live.whole().answered, IsEmpty());
  CodeSheet sheet;
  for (const ScanEvent& event : live.car().all<ScanEvent>()) sheet.on_event(event);
  EXPECT_THAT(joined(sheet.text(), "\n"), HasSubstr("The scan is not complete"));
}

TEST(CodeScanLive, AHundredAndTwentyCodesOfOneUnitAreReadWhole) {
  std::string scenario = R"toml(
format = 1
title = "One unit with a long memory (invented)"
lasts_s = 300
[vehicle]
engine = "stopped"
[[ecu]]
id = "transmission"
request = 0x7E1
response = 0x7E9
pids = [0x0D]
[ecu.memory]
services = ["ISO 14229"]
)toml";
  std::set<std::string> wanted;
  for (int i = 0; i < 120; ++i) {
    const std::string code = text_of(J2012Code{static_cast<std::uint16_t>(0x0700 + i), std::uint8_t{0x11}});
    wanted.insert(code);
    scenario += "[[ecu.code]]\ncode = \"" + code + "\"\nstatus = 0x20\n";
  }
  ScanLive live(scenario);
  live.scan();
  EXPECT_EQ(live.codes()["7E9"], wanted);
}

}  // namespace
}  // namespace sumplog::testing
