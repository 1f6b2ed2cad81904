#include "core/record/job_record.h"

#include <algorithm>

#include "core/item/json_line.h"

namespace sumplog {
namespace {

constexpr int kDecimals = 1;  // of kilometres and counts

void text_if(JsonLine& line, std::string_view key, std::string_view value) {
  if (!value.empty()) line.text(key, value);
}
void texts_if(JsonLine& line, std::string_view key, const std::vector<std::string>& values) {
  if (!values.empty()) line.texts(key, values);
}
void time_if(JsonLine& line, std::string_view key, const std::optional<TimePoint>& at) {
  if (at) line.time(key, *at);
}
void number_if(JsonLine& line, std::string_view key, std::optional<double> value) {
  if (value) line.number(key, *value, kDecimals);
}
template <class E>
void event_if(JsonLine& line, std::string_view key, const std::optional<E>& event) {
  if (event) line.raw(key, journal_line(Event(*event)));
}
template <class T, class F>
void list_if(JsonLine& line, std::string_view key, const std::vector<T>& items, F object) {
  if (!items.empty()) line.raw(key, json_array(items, object));
}

std::string visit_object(const StageVisit& visit) {
  JsonLine line;
  time_if(line, "begun_t", visit.begun);
  time_if(line, "ended_t", visit.ended);
  if (visit.late) line.text("time", "by hand");
  return line.take();
}
std::string stage_object(const StageRecord& stage) {
  JsonLine line;
  line.text("stage", stage.stage).text("state", text_of(stage.state()));
  list_if(line, "visits", stage.visits, visit_object);
  text_if(line, "why", stage.skipped_why);
  return line.take();
}
std::string code_object(const ScanRecord::Code& code) {
  JsonLine line;
  line.text("ecu", code.ecu).text("code", code.code);
  texts_if(line, "status", code.status);
  text_if(line, "text", code.text);
  text_if(line, "class", code.code_class);
  return line.take();
}
void scan_if(JsonLine& line, std::string_view key, const std::optional<ScanRecord>& scan) {
  if (!scan) return;
  JsonLine one;
  time_if(one, "ended_t", scan->ended);
  one.flag("complete", scan->complete);
  texts_if(one, "why", scan->why);
  texts_if(one, "answered", scan->answered);
  texts_if(one, "silent", scan->silent);
  texts_if(one, "not_asked", scan->not_asked);
  list_if(one, "codes", scan->codes, code_object);
  line.raw(key, one.take());
}
std::string part_object(const PartRecord& part) {
  JsonLine line;
  line.text("part", part.part);
  text_if(line, "number", part.number);
  return line.number("count", part.count, kDecimals).take();
}
std::string note_object(const NoteRecord& note) {
  JsonLine line;
  line.time("t", note.at).text("text", note.text);
  text_if(line, "by", note.by);
  return line.take();
}
std::string photo_object(const PhotoRecord& photo) {
  JsonLine line;
  line.time("t", photo.at).text("file", photo.file).text("sha256", photo.sha256);
  if (photo.bytes) line.integer("bytes", static_cast<std::int64_t>(*photo.bytes));
  text_if(line, "type", photo.type);
  text_if(line, "of", photo.of);
  return line.take();
}
std::string item_object(const OpenItem& item) {
  JsonLine line;
  line.text("item", item.item).text("text", item.text).flag("automatic", item.automatic);
  line.text("state", text_of(item.state));
  text_if(line, "by", item.by);
  text_if(line, "answer", item.answer);
  text_if(line, "missing", item.missing);
  return line.take();
}

void add_vehicle(JsonLine& line, const JobRecord& record) {
  text_if(line, "plate", record.plate);
  text_if(line, "vin", record.vin());
  text_if(line, "vin_typed", record.vin_typed);
  list_if(line, "vins_read", record.vins_read, [](const std::pair<std::string, std::string>& one) {
    return JsonLine().text("ecu", one.first).text("vin", one.second).take();
  });
  if (!record.vin().empty()) line.flag("vin_mismatch", record.vin_mismatch);
  number_if(line, "odometer_typed_km", record.odometer_typed_km);
  number_if(line, "odometer_read_km", record.odometer_read_km);
  number_if(line, "odometer_read_last_km", record.odometer_read_last_km);
  text_if(line, "customer", record.customer);
  text_if(line, "complaint", record.complaint);
  text_if(line, "technician", record.technician);
  text_if(line, "transmission", record.transmission);
  text_if(line, "unit", record.unit);
  text_if(line, "fluid", record.fluid);
  text_if(line, "batch", record.batch);
}

}  // namespace

StageState StageRecord::state() const {
  if (!visits.empty()) return visits.back().ended ? StageState::done : StageState::open;
  return skipped ? StageState::skipped : StageState::not_done;
}

std::string JobRecord::vin() const {
  if (!vin_typed.empty() || vins_read.empty()) return vin_typed;
  return vins_read.front().second;
}

const VerdictEvent* JobRecord::verdict() const {
  return verdicts.empty() ? nullptr : &verdicts.back();
}

std::string_view text_of(StageState state) {
  switch (state) {
    case StageState::not_done: return "not done";
    case StageState::open: return "open";
    case StageState::done: return "done";
    case StageState::skipped: return "skipped";
  }
  return "not done";
}

std::string_view text_of(OpenItemState state) {
  switch (state) {
    case OpenItemState::open: return "open";
    case OpenItemState::done: return "done";
    case OpenItemState::signed_over: return "signed over";
  }
  return "open";
}

std::string json(const JobRecord& record) {
  JsonLine line;
  line.text("job", record.job);
  text_if(line, "program", record.program);
  text_if(line, "time_zone", record.time_zone);
  line.flag("redacted", record.redacted).text("state", record.ended ? "closed" : "open");
  time_if(line, "began_t", record.began);
  time_if(line, "ended_t", record.ended);
  time_if(line, "last_t", record.last);
  texts_if(line, "decoders", record.decoders);
  text_if(line, "service", record.service);
  add_vehicle(line, record);
  list_if(line, "stages", record.stages, stage_object);
  scan_if(line, "codes_before", record.codes_before);
  scan_if(line, "codes_after", record.codes_after);
  event_if(line, "compared", record.compared);
  event_if(line, "balance", record.balance);
  event_if(line, "exchange", record.exchange);
  list_if(line, "verdicts", record.verdicts,
          [](const VerdictEvent& one) { return journal_line(Event(one)); });
  event_if(line, "level_sums", record.level_sums);
  list_if(line, "parts", record.parts, part_object);
  list_if(line, "notes", record.notes, note_object);
  list_if(line, "photos", record.photos, photo_object);
  line.integer("gaps", static_cast<std::int64_t>(record.gaps));
  if (record.gaps > 0) line.duration("longest_gap_s", record.longest_gap);
  line.integer("losses", static_cast<std::int64_t>(record.losses));
  line.integer("resumed", static_cast<std::int64_t>(record.resumed));
  list_if(line, "open_items", record.open_items, item_object);
  line.flag("may_close", record.may_close);
  texts_if(line, "missing", record.missing);
  return line.take();
}

}  // namespace sumplog
