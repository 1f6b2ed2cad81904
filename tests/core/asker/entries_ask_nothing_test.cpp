#include <algorithm>
#include <fstream>
#include <iterator>
#include <set>

#include "core/asker/live_vehicle.h"
#include "core/item/entry_names.h"
#include "core/item/json_line.h"
#include "core/record/entry_table.h"

namespace sumplog::testing {
namespace {

using namespace std::chrono_literals;

// No client can make the program send anything but a scan of fault codes or one reading of the fluid temperature: all that a
// client has are entries (tests/app/web_contract_test.cpp), and here is what each of them changes on the bus.

Scenario shipped_vehicle() {
  std::ifstream file(SUMPLOG_SOURCE "/captures/demo-9/cold-start-to-window/scenario.toml");
  return scenario_from({std::istreambuf_iterator<char>(file), {}});
}

/// Fields that the table lets pass, as many as there are.
std::string full_fields(const EntryRule& entry) {
  JsonLine line;
  for (const FieldRule& field : entry.fields) {
    switch (field.kind) {
      case FieldKind::text: line.text(field.name, "7E0 2F 01"); break;
      case FieldKind::number: line.number(field.name, (field.low + field.high) / 2, 1); break;
      case FieldKind::flag: line.flag(field.name, true); break;
      case FieldKind::word: line.text(field.name, field.words.back()); break;
      case FieldKind::texts: line.texts(field.name, {"7E0#0210030000000000"}); break;
    }
  }
  return line.take();
}

/// What was asked: identifier and the request without its padding. How often is a matter of time.
std::set<std::string> questions(const LiveVehicle& car) {
  std::set<std::string> all;
  for (const CanFrame& frame : car.sent()) {
    const auto data = frame.data();
    const bool flow_control = (data[0] >> 4) == 3;  // ISO 15765-2
    if (!flow_control)
      all.insert(hex_text(reinterpret_cast<const std::uint8_t*>(&frame.id.value), 2) + ":" +
                 hex_text(data.data(), data.size()));
  }
  return all;
}

/// Questions of a job in which these entries were made, each with all its fields.
std::set<std::string> asked_with(const std::vector<EntryRule>& entries) {
  LiveVehicle car(shipped_vehicle(), demo_opening());
  car.run_for(20s);
  for (const EntryRule& entry : entries) {
    const auto fields = checked_fields(entry.name, full_fields(entry));
    EXPECT_TRUE(fields) << fields.error().text();
    car.enter(std::string(entry.name), *fields);
    car.run_for(5s);
    if (entry.name == kPlugOut) {
      car.enter(std::string(kPlugIn));
      car.run_for(1s);
    }
  }
  car.run_for(60s);
  return questions(car);
}

std::vector<EntryRule> entries_but(const std::set<std::string_view>& left_out) {
  std::vector<EntryRule> entries;
  for (const EntryRule& entry : entry_table())
    if (!left_out.contains(entry.name)) entries.push_back(entry);
  return entries;
}
EntryRule entry_called(std::string_view name) {
  return *std::find_if(entry_table().begin(), entry_table().end(),
                       [&](const EntryRule& one) { return one.name == name; });
}

TEST(EntriesAskNothing, EveryEntryButTwoLeavesTheQuestionsAsTheyAre) {
  const std::set<std::string> without = asked_with({});
  ASSERT_GT(without.size(), 3U);
  EXPECT_EQ(asked_with(entries_but({kScanEntry, kReadOnceEntry})), without);
}

TEST(EntriesAskNothing, AReadingOnDemandIsTheQuestionThatIsAskedAnyhow) {
  EXPECT_EQ(asked_with({entry_called(kReadOnceEntry)}), asked_with({}));
}

TEST(EntriesAskNothing, AScanAddsServicesThatReadCodesAndNothingElse) {
  const std::set<std::string> before = asked_with({});
  const std::set<std::string> with_scan = asked_with({entry_called(kScanEntry)});
  EXPECT_GT(with_scan.size(), before.size()) << "or this test shows nothing";
  // docs/fault_codes.md: stored, pending and permanent codes, freeze frames, readiness, and ISO 14229-1 service 19.
  const std::set<std::string> services{"01", "02", "03", "06", "07", "09", "0A", "19", "22"};
  for (const std::string& question : with_scan) {
    if (before.contains(question)) continue;
    const std::string service = question.substr(question.find(':') + 3, 2);
    EXPECT_TRUE(services.contains(service)) << question;
  }
}

}  // namespace
}  // namespace sumplog::testing
