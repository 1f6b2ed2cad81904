#include "core/drawing/report_page.h"

#include <gmock/gmock.h>

#include "core/drawing/course_chart.h"
#include "core/drawing/course_picture.h"
#include "core/drawing/limit_table.h"
#include "core/record/job_summary.h"
#include "core/vehicle/simulated_job.h"
#include "core/vehicle/whole_job.h"

namespace sumplog::testing {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;

std::string whole_minutes(TimePoint at) {
  const std::int64_t min = micros(at) / 60'000'000 % (24 * 60);
  return "2023-11-14 " + std::to_string(min / 60) + ":" + std::to_string(min % 60);
}

/// The part of a report that the customer gets.
std::string sheet_of(const std::string& page) {
  const std::size_t begin = page.find("<section class=\"sheet\">");
  return page.substr(begin, page.find("</section>", begin) - begin);
}
std::string technician_of(const std::string& page) {
  return page.substr(page.find("<section class=\"technician\">"));
}

ReportFacts facts_of(const JobRecord& record) {
  ReportFacts facts;
  facts.record = record;
  facts.seals = "closed";
  facts.seals_text = "closed: sealed to the last byte";
  facts.fingerprint = std::string(64, 'a');
  facts.local = whole_minutes;
  return facts;
}

JobRecord empty_record() {
  return JobSummary().record();
}

TEST(CourseOfAWholeJob, IsTheSameLiveAndReplayed) {
  const std::vector<Item> opening = whole_job_opening();
  const Scenario scenario = whole_job();
  CourseChart live;
  std::vector<Item> recorded = opening;
  for (const Item& item : opening) live.on_item(item);
  SimulatedJob job(scenario, kJobStart, opening, [&](const Item& item) -> Result<Item> {
    recorded.push_back(item);
    live.on_item(item);
    return item;
  });
  std::vector<std::string> on_the_way;
  for (bool goes_on = true; goes_on;) {
    std::vector<Event> events;
    const auto more = job.step(events);
    ASSERT_TRUE(more);
    goes_on = *more;
    for (const Event& event : events) live.on_event(event);
  }

  CourseChart replayed;
  Flow flow;
  Output out;
  for (const Item& item : recorded) {
    out.clear();
    flow.on_item(item, out);
    feed(replayed, item, out.events);
  }
  for (const bool fahrenheit : {false, true}) {
    CourseOptions options;
    options.fahrenheit = fahrenheit;
    options.now = job.now();
    const std::string svg = live.svg(options);
    EXPECT_TRUE(svg == replayed.svg(options));
    EXPECT_THAT(svg, HasSubstr("plug out"));
    EXPECT_EQ(count_of(svg, "class=\"by-hand\""), 3U + 1U) << "three readings by hand, and their name";
    EXPECT_NE(element_of(svg, "no-reading"), "") << "the ignition was off for three hours";
  }
}

TEST(ReportPage, EscapesWhatAPersonTyped) {
  const std::string nasty = "<script>alert(1)</script>\" onload='x' &";
  JobRecord record = empty_record();
  record.plate = nasty;
  record.vin_typed = nasty;
  record.customer = nasty;
  record.complaint = nasty;
  record.technician = nasty;
  record.unit = nasty;
  record.fluid = nasty;
  record.parts.push_back({nasty, nasty, 1});
  record.notes.push_back({kJobStart, nasty, nasty});
  record.open_items.push_back({nasty, nasty, false, OpenItemState::open, nasty, nasty, nasty});
  record.vins_read.emplace_back(nasty, nasty);
  ReportFacts facts = facts_of(record);
  facts.file = nasty;
  facts.photos.push_back({{kJobStart, nasty, nasty, {}, nasty, nasty}, "", nasty});
  const std::string page = report_page(facts);
  EXPECT_THAT(page, Not(HasSubstr("<script")));
  EXPECT_THAT(page, Not(HasSubstr("' &<")));
  EXPECT_GT(count_of(page, "&lt;script&gt;"), 12U);
}

TEST(ReportPage, FetchesNothingAndRunsNothing) {
  const std::string page = report_page(facts_of(empty_record()));
  EXPECT_THAT(page, HasSubstr("default-src 'none'; img-src data:"));
  for (const char* const what : {"<script", "<link", "<iframe", "http:", "https:", "@import", "url("})
    EXPECT_THAT(page, Not(HasSubstr(what))) << what;
}

TEST(ReportPage, WhatIsNotKnownIsSaidAndNeverZero) {
  const std::string sheet = sheet_of(report_page(facts_of(empty_record())));
  EXPECT_THAT(sheet, HasSubstr("not written down"));
  EXPECT_THAT(sheet, HasSubstr("No step of the work was entered."));
  EXPECT_THAT(sheet, HasSubstr("No amount of fluid was entered."));
  EXPECT_THAT(sheet, HasSubstr("No level check was carried to its end."));
  EXPECT_EQ(count_of(sheet, "Not read."), 2U) << "codes before and after";
  EXPECT_THAT(sheet, Not(HasSubstr("0.0")));
  EXPECT_THAT(sheet, Not(HasSubstr("Conditions kept")));
}

TEST(ReportPage, ConditionsThatWereNotKeptStandOnTheSheetByName) {
  JobRecord record = empty_record();
  VerdictEvent verdict;
  verdict.why = {"engine was off for 12 s", "selector was in D"};
  verdict.temp_out_c = 36;
  record.verdicts.push_back(verdict);
  record.level_sums = LevelSumsEvent{{}, 50, 45, 10, 7.6, {34.1, 38.2, 38.9}, {}};
  const std::string page = report_page(facts_of(record));
  const std::string sheet = sheet_of(page);
  EXPECT_THAT(sheet, HasSubstr("Conditions not kept"));
  EXPECT_THAT(sheet, HasSubstr("engine was off for 12 s"));
  EXPECT_THAT(sheet, HasSubstr("selector was in D"));
  EXPECT_THAT(sheet, HasSubstr("36 °C when it came out"));
  EXPECT_THAT(sheet, HasSubstr("What ran out of the standpipe was not entered."));
  EXPECT_THAT(sheet, Not(HasSubstr("about 38 mL"))) << "the estimate is for the technician alone";
  EXPECT_THAT(technician_of(page), HasSubstr("<h3>Estimate of the level</h3>"));
  EXPECT_THAT(technician_of(page), HasSubstr("about 38 mL too little"));
  EXPECT_THAT(technician_of(page), HasSubstr("Repeat the check."));
}

TEST(ReportPage, TemperaturesAreInFahrenheitWhereAsked) {
  JobRecord record = empty_record();
  VerdictEvent verdict;
  verdict.kept = true;
  verdict.temp_out_c = 35;
  verdict.temp_in_c = 45;
  verdict.rate_c_per_min = 2;
  record.verdicts.push_back(verdict);
  ReportFacts facts = facts_of(record);
  facts.fahrenheit = true;
  facts.configuration.window = TemperatureWindow{{35}, {45}};
  const std::string page = report_page(facts);
  EXPECT_THAT(sheet_of(page), HasSubstr("95 °F when it came out, 113 °F when it was in again"));
  EXPECT_THAT(sheet_of(page), HasSubstr("Asked for: 95 to 113 °F; nobody confirmed where that comes from."));
  EXPECT_THAT(technician_of(page), HasSubstr("3.60 °F/min")) << "a rate is a difference";
}

TEST(ReportPage, AChangedFileIsSaidFirstAndTellsNothingAsKept) {
  JobRecord record = empty_record();
  VerdictEvent verdict;
  verdict.kept = true;
  record.verdicts.push_back(verdict);
  ReportFacts facts = facts_of(record);
  EXPECT_THAT(report_page(facts), HasSubstr("Conditions kept"));
  facts.holds = false;
  facts.seals = "changed";
  facts.seals_text = "changed: in lines 7 to 12";
  const std::string page = report_page(facts);
  EXPECT_THAT(sheet_of(page), HasSubstr("cannot be relied on"));
  EXPECT_THAT(technician_of(page), HasSubstr("changed: in lines 7 to 12"));
  EXPECT_THAT(page, Not(HasSubstr("Conditions kept")));
  facts.holds = true;
  facts.seals = "open";
  EXPECT_THAT(sheet_of(report_page(facts)), HasSubstr("Still open: what comes later is not on this sheet."));
}

TEST(ReportPage, APhotoThatIsMissingIsSaid) {
  ReportFacts facts = facts_of(empty_record());
  facts.photos.push_back(
      {{kJobStart, "a.jpg", "00", {}, "image/jpeg", "pan before"}, "data:image/jpeg;base64,AAAA", ""});
  facts.photos.push_back(
      {{kJobStart, "b.jpg", "00", {}, "image/jpeg", "pan after"}, "", "photo \"b.jpg\" is missing"});
  const std::string sheet = sheet_of(report_page(facts));
  EXPECT_THAT(sheet, HasSubstr("<img alt=\"\" src=\"data:image/jpeg;base64,AAAA\">"));
  EXPECT_THAT(sheet, HasSubstr("photo &quot;b.jpg&quot; is missing"));
  EXPECT_THAT(sheet, HasSubstr("pan after"));
}

TEST(LimitTable, NamesEachLimitWithItsOriginAndAWindowThatASettingPutInItsPlace) {
  ConfigurationReader reader;
  for (const Item& item : whole_job_opening()) reader.on_item(item);
  JobConfiguration configuration = reader.finish();
  auto rows = limit_table(configuration, false);
  ASSERT_FALSE(rows.empty());
  EXPECT_EQ(rows[0].name, "window");
  EXPECT_EQ(rows[0].value, "35 to 45 °C");
  EXPECT_EQ(rows[0].origin, "invented");
  EXPECT_EQ(rows[0].place, "demo-9/service.toml:8");
  for (const LimitRow& row : rows) EXPECT_NE(row.origin, "") << row.name;
  configuration.window = TemperatureWindow{{30}, {40}};
  rows = limit_table(configuration, true);
  EXPECT_EQ(rows[0].value, "86 to 104 °F");
  EXPECT_EQ(rows[0].origin, "set for this job, not taken from a service file");
}

TEST(LimitTable, WithoutAWindowItSaysWhyAndAStayOfItsOwnIsNamed) {
  JobConfiguration none;
  none.no_window_why = "no service file";
  ASSERT_EQ(limit_table(none, false).size(), 1U);
  EXPECT_EQ(limit_table(none, false)[0].value, "none: no service file");
  none.window = TemperatureWindow{{35}, {45.5}};
  EXPECT_EQ(limit_table(none, false)[0].value, "35 to 45.5 °C");
  const auto stay_of = [](JobConfiguration configuration) {
    for (const LimitRow& row : limit_table(configuration, false))
      if (row.name == "shortest stay in the window") return row.value + ", " + row.origin;
    return std::string("no such row");
  };
  JobConfiguration bare;
  bare.service.emplace();
  EXPECT_EQ(stay_of(bare), "120 s, common practice, no source");
  bare.service->minimum_stay.emplace().value = std::chrono::seconds(60);
  EXPECT_EQ(stay_of(bare), "120 s, common practice, no source") << "not that of the file";
  bare.window = TemperatureWindow{{35}, {45}};
  EXPECT_EQ(limit_table(bare, false)[0].origin, "set for this job, not taken from a service file");
  bare.minimum_stay = std::chrono::seconds(90);
  EXPECT_EQ(stay_of(bare), "90 s, set for this job, not taken from a service file");
}

TEST(LimitTable, StatesAndListsOfAServiceFileAreWords) {
  JobConfiguration configuration;
  ServiceFile& file = configuration.service.emplace();
  file.engine.emplace().value = EngineState::stopped;
  file.vehicle.emplace().value = VehicleState::any;
  file.by_hand.emplace().value = {"level in both axes", "hand brake on"};
  file.rate_limit.emplace().value = CelsiusPerMinute{2.5};
  const auto value_of = [&](const char* name, bool fahrenheit) {
    for (const LimitRow& row : limit_table(configuration, fahrenheit))
      if (row.name == name) return row.value;
    return std::string("no such row");
  };
  EXPECT_EQ(value_of("engine", false), "stopped");
  EXPECT_EQ(value_of("vehicle", false), "any");
  EXPECT_EQ(value_of("to be ticked by hand", false), "level in both axes, hand brake on");
  EXPECT_EQ(value_of("fastest rise", false), "2.5 °C/min");
  EXPECT_EQ(value_of("fastest rise", true), "4.5 °F/min");
}

TEST(LimitTable, TheFormulaOfAReadingIsShownAsItIs) {
  const auto formula_of = [](double scale, double offset, const char* unit, const char* note) {
    JobConfiguration configuration;
    Decoder& decoder = configuration.decoders.emplace_back();
    decoder.id = "d";
    decoder.note = note;
    Signal& signal = decoder.signals.emplace_back();
    signal.name = "fluid_temperature";
    signal.scale = scale;
    signal.offset = offset;
    signal.unit = unit;
    std::string text;
    for (const LimitRow& row : decoder_table(configuration)) text += row.name + ": " + row.value + ";";
    return text;
  };
  EXPECT_EQ(formula_of(0.5, -40, "degC", ""), "d: fluid_temperature: raw * 0.5 - 40 °C;");
  EXPECT_EQ(formula_of(1, 0, "degC", ""), "d: fluid_temperature: raw °C;");
  EXPECT_EQ(formula_of(0.33333, 1.5, "none", "by ear"),
            "d: fluid_temperature: raw * 0.3333 + 1.5 none;d: note: by ear;");
}

TEST(LimitTable, SaysWhereTheFluidTemperatureIsReadFrom) {
  ConfigurationReader reader;
  for (const Item& item : whole_job_opening()) reader.on_item(item);
  const auto rows = decoder_table(reader.finish());
  EXPECT_TRUE(std::any_of(rows.begin(), rows.end(), [](const LimitRow& row) {
    return row.name == "demo-9: fluid_temperature" && row.value == "raw - 40 °C" && row.origin == "invented";
  }));
}

}  // namespace
}  // namespace sumplog::testing
