#include "app/job_indexing.h"

#include <filesystem>
#include <utility>
#include <vector>

#include "app/job_look.h"
#include "app/job_place.h"
#include "core/item/entry_names.h"
#include "core/job/entry_fields.h"
#include "core/journal/wrapped_text.h"
#include "io/durable_file.h"
#include "io/job_folder.h"
#include "io/verify.h"

namespace sumplog {
namespace {

/// A volume that was entered, for the table of fluids.
void add_volume(std::vector<IndexedFluid>& fluids, const Event& event) {
  const auto* told = std::get_if<EntryEvent>(&event);
  if (told == nullptr || (told->name != kFluidOut && told->name != kFluidIn)) return;
  const Entry entry{told->at, told->id, told->name, told->fields};
  fluids.push_back({told->name == kFluidOut ? "out" : "in", text_field(entry, "part").value_or(""),
                    text_field(entry, "fluid").value_or(""), text_field(entry, "batch").value_or(""),
                    number_field(entry, "litres")});
}

void add_codes(std::vector<IndexedCode>& codes, const std::optional<ScanRecord>& scan) {
  if (!scan) return;
  for (const ScanRecord::Code& one : scan->codes)
    codes.push_back({scan->scan, one.ecu, one.code, joined(one.status, ", ")});
}

void take_record(IndexedJob& job, const JobRecord& record) {
  job.id = record.job;
  job.program = record.program;
  job.time_zone = record.time_zone;
  job.began = record.began;
  job.ended = record.ended;
  job.plate = record.plate;
  if (!record.vin_typed.empty()) job.vins.push_back({"typed", record.vin_typed});
  for (const auto& [ecu, vin] : record.vins_read) job.vins.push_back({"read", vin});
  job.vin_mismatch = record.vin_mismatch;
  job.odometer_km = record.odometer_typed_km ? record.odometer_typed_km : record.odometer_read_km;
  job.transmission = record.transmission;
  job.unit = record.unit;
  job.redacted = record.redacted;
  if (!record.fluid.empty() || !record.batch.empty())
    job.fluids.push_back({"specified", "", record.fluid, record.batch, std::nullopt});
  for (const OpenItem& item : record.open_items)
    job.open_items += item.state == OpenItemState::open ? 1U : 0U;
  add_codes(job.codes, record.codes_before);
  add_codes(job.codes, record.codes_after);
  if (const VerdictEvent* verdict = record.verdict()) {
    job.conditions = verdict->kept ? "kept" : "not kept";
    job.thermometer = verdict->thermometer == Quality::by_hand ? "by hand" : "measured";
    job.temp_out_c = verdict->temp_out_c;
    job.temp_in_c = verdict->temp_in_c;
    if (verdict->level_seen) job.level_seen = verdict->level_seen->flow;
  }
}

}  // namespace

Result<IndexedJob> read_for_index(const std::string& path, const std::string& bay) {
  IndexedJob job;
  // Before it is read: what is added meanwhile makes it differ from the index, and it is read again.
  const auto stamp = folder_file(path);
  if (!stamp) return tl::unexpected(stamp.error());
  const auto verified = verify(path);
  if (!verified) return tl::unexpected(verified.error());
  const auto record = replayed_record(path, [&](const Item&, const std::vector<Event>& events) {
    for (const Event& event : events) add_volume(job.fluids, event);
  });
  if (!record) return tl::unexpected(record.error());
  take_record(job, *record);
  if (job.id.empty()) return fault("its settings cannot be read, so nobody knows which job it is", path);
  job.bay = bay;
  job.folder = absolute_folder(folder_of(path));
  job.file = stamp->name;
  job.bytes = stamp->bytes;
  job.modified_us = stamp->modified_us;
  job.fingerprint = verified->fingerprint;
  job.state = text_of(verified->state);
  return job;
}

IndexPlace index_place(const ProgramSettings& settings) {
  if (const auto named = settings.value("index")) return {*named};
  return {(std::filesystem::path(data_folder(settings)) / "index.sqlite").string()};
}

std::string bay_name(const ProgramSettings& settings) {
  return settings.value("bay").value_or(computer_name());
}

}  // namespace sumplog
