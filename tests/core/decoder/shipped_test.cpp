#include <gtest/gtest.h>

#include <algorithm>

#include "core/codes/code_table.h"
#include "core/decoder/decoder.h"
#include "core/decoder/mistakes.h"
#include "core/decoder/service_file.h"
#include "core/diagnostics/pid_length.h"

namespace sumplog {
namespace {

namespace fs = std::filesystem;

Decoder shipped(const std::string& id) {
  const fs::path file = fs::path{SUMPLOG_SOURCE} / "decoders" / id / "signals.toml";
  auto decoder = parse_decoder(testing::file_text(file), id + "/signals.toml");
  EXPECT_TRUE(decoder) << decoder.error().text();
  return decoder ? *decoder : Decoder{};
}

const Signal& signal(const Decoder& decoder, std::string_view name) {
  const auto found = std::find_if(decoder.signals.begin(), decoder.signals.end(),
                                  [&](const Signal& one) { return one.name == name; });
  if (found == decoder.signals.end()) throw std::runtime_error("no signal " + std::string{name});
  return *found;
}

class Shipped : public ::testing::TestWithParam<fs::path> {};

TEST_P(Shipped, FolderHoldsADecoderThatIsInOrderAndIsNamedLikeItsFolder) {
  const std::string id = GetParam().filename();
  EXPECT_EQ(shipped(id).id, id);
  EXPECT_FALSE(testing::file_text(GetParam() / "notes.md").empty()) << "notes.md is missing";
}

class ShippedService : public ::testing::TestWithParam<fs::path> {};

TEST_P(ShippedService, FileIsInOrderAndIsNamedLikeItsFolder) {
  const auto service = parse_service_file(testing::file_text(GetParam() / "service.toml"), "service.toml");
  ASSERT_TRUE(service) << service.error().text();
  EXPECT_EQ(service->id, GetParam().filename().string());
}

class ShippedCodes : public ::testing::TestWithParam<fs::path> {};

TEST_P(ShippedCodes, FileIsInOrderAndIsNamedLikeItsFolder) {
  const auto codes = parse_code_file(testing::file_text(GetParam() / "codes.toml"), "codes.toml");
  ASSERT_TRUE(codes) << codes.error().text();
  EXPECT_EQ(codes->id, GetParam().filename().string());
}

/// Positions that the service file asks for.
std::vector<std::string> positions(const ServiceFile& service) {
  std::vector<std::string> out;
  if (service.selector) out = service.selector->value;
  if (service.selector_cycle) {
    for (const SelectorHold& hold : service.selector_cycle->value) out.push_back(hold.position);
  }
  return out;
}

TEST(ShippedServiceFiles, AskForSelectorPositionsThatTheDecoderCanRead) {
  int compared = 0;
  for (const fs::path& folder : testing::folders_with("service.toml")) {
    const Decoder decoder = shipped(folder.filename());
    const auto service = parse_service_file(testing::file_text(folder / "service.toml"), "service.toml");
    ASSERT_TRUE(service);
    const auto found = std::find_if(decoder.signals.begin(), decoder.signals.end(),
                                    [](const Signal& one) { return one.name == "selector_position"; });
    if (found == decoder.signals.end()) continue;  // the technician says so by hand
    for (const std::string& position : positions(*service)) {
      const bool known = std::any_of(found->labels.begin(), found->labels.end(),
                                     [&](const auto& label) { return label.second == position; });
      EXPECT_TRUE(known) << folder << ": " << position;
      ++compared;
    }
  }
  EXPECT_GT(compared, 0);
}

std::string test_name_of(const ::testing::TestParamInfo<fs::path>& folder) {
  std::string name = folder.param.filename();
  std::replace_if(
      name.begin(), name.end(), [](char c) { return std::isalnum(static_cast<unsigned char>(c)) == 0; }, '_');
  return name;
}
INSTANTIATE_TEST_SUITE_P(Folders, Shipped, ::testing::ValuesIn(testing::folders_with("signals.toml")),
                         test_name_of);
INSTANTIATE_TEST_SUITE_P(Folders, ShippedCodes, ::testing::ValuesIn(testing::folders_with("codes.toml")),
                         test_name_of);
INSTANTIATE_TEST_SUITE_P(Folders, ShippedService, ::testing::ValuesIn(testing::folders_with("service.toml")),
                         test_name_of);

TEST(Template, CopiedUnderAnotherNameIsADecoderAtOnce) {
  const fs::path folder = fs::path{SUMPLOG_SOURCE} / "decoders/_template";
  const auto copied = [&](const char* name) {
    return testing::changed(testing::file_text(folder / name), "id = \"_template\"", "id = \"my-9\"");
  };
  const auto decoder = parse_decoder(copied("signals.toml"), "my-9/signals.toml");
  ASSERT_TRUE(decoder) << decoder.error().text();
  EXPECT_EQ(decoder->id, "my-9");
  const auto service = parse_service_file(copied("service.toml"), "my-9/service.toml");
  ASSERT_TRUE(service) << service.error().text();
  EXPECT_EQ(service->id, "my-9");
  const auto codes = parse_code_file(copied("codes.toml"), "my-9/codes.toml");
  ASSERT_TRUE(codes) << codes.error().text();
  EXPECT_EQ(codes->id, "my-9");
}

struct PidRow {
  const char* name;
  int pid;
  std::vector<std::uint8_t> bytes;
  double value;
};

TEST(ObdGeneric, GivesTheValuesOfTheStandardsTable) {
  // SAE J1979 as decoded by Wireshark packet-obd-ii.c and scapy, which agree on these; 10 by the formula in
  // packet-obd-ii.c (scapy reads one byte), 32 in scapy's unit; A4 and A6 from memory.
  const std::vector<PidRow> rows = {
      {"engine_load", 0x04, {0x80}, 50.196},
      {"coolant_temperature", 0x05, {0x7B}, 83},
      {"manifold_absolute_pressure", 0x0B, {0x65}, 101},
      {"engine_speed", 0x0C, {0x1A, 0xF8}, 1726},
      {"engine_speed", 0x0C, {0x0E, 0x70}, 924},
      {"vehicle_speed", 0x0D, {0x32}, 50},
      {"intake_air_temperature", 0x0F, {0x41}, 25},
      {"mass_air_flow", 0x10, {0x0A, 0xF0}, 28.00},
      {"throttle_position", 0x11, {0x33}, 20.0},
      {"engine_run_time", 0x1F, {0x02, 0x58}, 600},
      {"distance_with_mil", 0x21, {0x00, 0x64}, 100},
      {"warm_ups_since_codes_cleared", 0x30, {0x07}, 7},
      {"distance_since_codes_cleared", 0x31, {0x03, 0xE8}, 1000},
      {"evaporative_vapor_pressure", 0x32, {0xFF, 0x9C}, -25.0},
      {"barometric_pressure", 0x33, {0x65}, 101},
      {"module_voltage", 0x42, {0x35, 0x21}, 13.601},
      {"ambient_temperature", 0x46, {0x46}, 30},
      {"time_with_mil", 0x4D, {0x00, 0x10}, 16},
      {"time_since_codes_cleared", 0x4E, {0x01, 0x23}, 291},
      {"engine_oil_temperature", 0x5C, {0x6E}, 70},
      {"fuel_rate", 0x5E, {0x01, 0x90}, 20.0},
      {"engine_torque_demanded", 0x61, {0x91}, 20},
      {"engine_torque_actual", 0x62, {0x8C}, 15},
      {"engine_reference_torque", 0x63, {0x01, 0xF4}, 500},
      {"actual_gear", 0xA4, {0x03, 0x30, 0x0B, 0xB8}, 3},
      {"odometer", 0xA6, {0x00, 0x01, 0x2F, 0xC2}, 7776.2},
  };
  const Decoder decoder = shipped("obd-generic");
  for (const PidRow& row : rows) {
    const Signal& one = signal(decoder, row.name);
    EXPECT_EQ(int{std::get<PidSource>(one.source).pid}, row.pid) << row.name;
    const auto value = decode(one, row.bytes);
    ASSERT_TRUE(value) << row.name;
    EXPECT_NEAR(*value, row.value, 0.0005) << row.name;  // the table prints three decimals
  }
}

TEST(ObdGeneric, HasNoFluidTemperatureAndSaysSo) {
  const Decoder decoder = shipped("obd-generic");
  for (const Signal& one : decoder.signals) EXPECT_NE(one.name, "fluid_temperature");
  EXPECT_NE(decoder.note.find("no fluid temperature"), std::string::npos);
}

TEST(ObdGeneric, AsksOnlyForWhatALevelCheckNeeds) {
  std::vector<std::string> asked;
  for (const Signal& one : shipped("obd-generic").signals) {
    if (one.poll_period > Duration::zero()) asked.push_back(one.name);
  }
  std::sort(asked.begin(), asked.end());
  EXPECT_EQ(asked, (std::vector<std::string>{"ambient_temperature", "coolant_temperature", "engine_speed",
                                             "intake_air_temperature", "module_voltage", "vehicle_speed"}));
}

TEST(ObdGeneric, LengthsAreThoseByWhichAnAnswerWithSeveralParametersIsCut) {
  for (const Signal& one : shipped("obd-generic").signals) {
    const auto length = pid_length(std::get<PidSource>(one.source).pid);
    ASSERT_TRUE(length) << one.name;
    EXPECT_EQ(static_cast<std::size_t>(one.length), *length) << one.name;
  }
}

TEST(ObdGeneric, AGearThatTheUnitDoesNotSupportIsNoReading) {
  const Decoder decoder = shipped("obd-generic");
  const std::vector<std::uint8_t> ratio_only{0x02, 0x30, 0x0B, 0xB8};
  EXPECT_EQ(decode(signal(decoder, "actual_gear"), ratio_only).error(), DecodeError::not_available);
}

TEST(J1939Transmission, GivesTheFluidTemperatureOfSpn177) {
  // Layout and scale: canboat database/j1939/pgns/065272-transmissionFluids1.yaml; 96 °C also by a DBC
  // decoder (candied) on this payload; the other rows by the formula.
  const Decoder decoder = shipped("j1939-transmission");
  const Signal& one = signal(decoder, "fluid_temperature");
  const auto at = [&](std::uint8_t low, std::uint8_t high) {
    return decode(one, std::vector<std::uint8_t>{0xFF, 0xFF, 0xFF, 0x14, low, high, 0xFF, 0xFF});
  };
  EXPECT_EQ(at(0x20, 0x2E).value(), 96.0);
  EXPECT_EQ(at(0x20, 0x22).value(), 0.0);
  EXPECT_EQ(at(0xE0, 0x2A).value(), 70.0);
  EXPECT_EQ(at(0x00, 0x00).value(), -273.0);
  EXPECT_EQ(at(0xFF, 0xFA).value(), 1734.96875);
  for (const int high : {0xFB, 0xFD, 0xFE, 0xFF}) {
    EXPECT_EQ(at(0x00, static_cast<std::uint8_t>(high)).error(), DecodeError::not_available) << high;
  }
}

TEST(J1939Transmission, GivesGearsAndRatioOfOneMessage) {
  // Offsets of -125 by canboat's description of PGN 61445; park = FB from memory.
  const Decoder decoder = shipped("j1939-transmission");
  const std::vector<std::uint8_t> etc2{0xFB, 0xE8, 0x03, 0x7C, 0x44, 0x20, 0x44, 0x20};
  EXPECT_EQ(label_of(signal(decoder, "selected_gear"), raw_value(signal(decoder, "selected_gear"), etc2)),
            "P");
  EXPECT_NEAR(decode(signal(decoder, "actual_gear_ratio"), etc2).value(), 1.0, 1e-9);
  EXPECT_EQ(decode(signal(decoder, "actual_gear"), etc2).value(), -1.0);
}

TEST(Demo9, IsInventedInEveryFigure) {
  const Decoder decoder = shipped("demo-9");
  for (const Signal& one : decoder.signals) EXPECT_EQ(one.origin, Origin::invented) << one.name;
}

TEST(Demo9, ServiceFileHoldsTheWindowAndWhatBelongsToIt) {
  const fs::path file = fs::path{SUMPLOG_SOURCE} / "decoders/demo-9/service.toml";
  const auto service = parse_service_file(testing::file_text(file), "demo-9/service.toml");
  ASSERT_TRUE(service) << service.error().text();
  EXPECT_EQ(service->window->value, (TemperatureWindow{Celsius{35}, Celsius{45}}));
  EXPECT_EQ(service->window->origin, Origin::invented);
  EXPECT_EQ(service->decision_point->value, Celsius{40});
  EXPECT_EQ(service->start_limit->value, Celsius{30});
  EXPECT_EQ(service->abort_limit->value, Celsius{45});
  EXPECT_EQ(service->settling_time->value, Duration{60'000'000});
  EXPECT_EQ(service->engine->value, EngineState::running);
  EXPECT_EQ(service->vehicle->value, VehicleState::standing);
  EXPECT_EQ(service->idle->value.low_rpm, 600);
  EXPECT_EQ(service->idle->value.high_rpm, 900);
  EXPECT_EQ(service->selector->value, std::vector<std::string>{"P"});
  ASSERT_EQ(service->selector_cycle->value.size(), 4U);
  EXPECT_EQ(service->selector_cycle->value[3].position, "D");
  EXPECT_EQ(service->selector_cycle->value[3].hold, Duration{3'000'000});
  EXPECT_EQ(service->minimum_stay->value, Duration{120'000'000});
  EXPECT_EQ(service->rate_limit->value, CelsiusPerMinute{3});
  EXPECT_EQ(service->fill_l->value, 10);
  EXPECT_EQ(service->drain_share->value, 0.45);
  EXPECT_EQ(service->dead_volume_l->value, 0.5);
  EXPECT_EQ(service->imbalance->value.stop_l, 0.5);
  EXPECT_EQ(service->imbalance->value.abort_l, 1.0);
  EXPECT_EQ(service->bypass->value, Celsius{75});
  EXPECT_EQ(service->coolant_limit->value, Celsius{50});
  EXPECT_EQ(service->criterion->value, "drip");
  EXPECT_GE(service->cautions->value.size(), 4U);
}

}  // namespace
}  // namespace sumplog
