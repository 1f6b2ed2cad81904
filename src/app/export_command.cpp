#include <functional>
#include <iostream>
#include <map>

#include "app/commands.h"
#include "app/output_file.h"
#include "app/reading_table.h"
#include "app/recording.h"
#include "core/capture/writer.h"

namespace sumplog {
namespace {

std::optional<WrittenForm> written_form(const std::string& as) {
  if (as == "candump") return WrittenForm::candump;
  if (as == "pcapng") return WrittenForm::pcapng;
  if (as == "asc") return WrittenForm::asc;
  return std::nullopt;
}

}  // namespace

ExitStatus run_export(const CommonOptions& common, const ExportOptions& options) {
  auto recording = Recording::open(options.input, common.settings);
  if (!recording) return report(recording.error(), ExitStatus::wrong);
  auto to = OutputFile::create(options.to);
  if (!to) return report(to.error(), ExitStatus::wrong);

  const auto form = written_form(options.as);
  const auto frames = form ? make_writer(*form) : nullptr;
  ReadingTable readings;
  std::string bytes;
  if (!frames) bytes = ReadingTable::header();
  Output out;
  while (true) {
    auto item = recording->next();
    if (!item) return report(item.error(), ExitStatus::failed);
    if (!*item) break;
    if (frames) {
      frames->on_item(**item, bytes);
    } else {
      out.clear();
      recording->flow().on_item(**item, out);
      readings.on_events(out.events, bytes);
    }
    to->write(bytes);
    bytes.clear();
    if (to->failed())
      return report(Fault{"cannot be written", options.to, "is the disk full?"}, ExitStatus::failed);
  }
  if (frames) frames->on_end(bytes);
  to->write(bytes);
  if (auto finished = to->finish(); !finished) return report(finished.error(), ExitStatus::failed);
  return recording->report_ending();
}

}  // namespace sumplog
