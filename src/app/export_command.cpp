#include <functional>
#include <iostream>
#include <map>

#include "app/commands.h"
#include "app/output_file.h"
#include "app/reading_table.h"
#include "app/recording.h"
#include "core/capture/writer.h"
#include "io/job_archive.h"

namespace sumplog {
namespace {

std::optional<WrittenForm> written_form(const std::string& as) {
  if (as == "candump") return WrittenForm::candump;
  if (as == "pcapng") return WrittenForm::pcapng;
  if (as == "asc") return WrittenForm::asc;
  return std::nullopt;
}

/// A job file and its photos as one tar file. Photos that are not whole are left out and named.
ExitStatus export_archive(const CommonOptions& common, const ExportOptions& options) {
  auto to = OutputFile::create(options.to);
  if (!to) return report(to.error(), ExitStatus::wrong);
  const auto written = write_archive(options.input, [&](std::string_view bytes) -> Result<void> {
    to->write(bytes);
    if (to->failed()) return fault("cannot be written", options.to, "is the disk full?");
    return {};
  });
  if (!written) return report(written.error(), to->failed() ? ExitStatus::failed : ExitStatus::wrong);
  if (auto finished = to->finish(); !finished) return report(finished.error(), ExitStatus::failed);
  ExitStatus status = ExitStatus::done;
  if (written->job.state != SealState::closed)
    std::cerr << "sumplog: " << options.input << ": the job is not closed (" << written->job.text()
              << "); what comes later is not in this archive\n";
  if (!written->job.holds()) status = ExitStatus::failed;
  for (const PhotoFinding& photo : written->photos) {
    if (photo.state == PhotoState::whole) continue;
    status = report(Fault{text(photo) + ": it is not in the archive", options.input, {}}, ExitStatus::failed);
  }
  if (common.verbose)
    std::cerr << "sumplog: " << written->name << " and " << written->photos.size() << " photos; fingerprint "
              << written->job.fingerprint << '\n';
  return status;
}

}  // namespace

ExitStatus run_export(const CommonOptions& common, const ExportOptions& options) {
  if (options.as == "archive") return export_archive(common, options);
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
    auto item = frames ? recording->next() : recording->next_that_counts();
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
    if (to->failed()) {
      const bool piped = options.to.empty() || options.to == "-";
      return report(Fault{"cannot be written", piped ? "standard output" : options.to,
                          piped ? "is the disk full, or has its reader gone?" : "is the disk full?"},
                    ExitStatus::failed);
    }
  }
  if (frames) frames->on_end(bytes);
  to->write(bytes);
  if (auto finished = to->finish(); !finished) return report(finished.error(), ExitStatus::failed);
  const ExitStatus ending = recording->report_ending();
  const std::uint64_t left_out = frames ? frames->frames_left_out() : 0;
  if (left_out == 0) return ending;
  std::cerr << "sumplog: " << options.input << ": " << left_out
            << (left_out == 1 ? " frame is left out: its time has" : " frames are left out: their times have")
            << " no place in this form; --as candump takes every time\n";
  return ending == ExitStatus::done ? ExitStatus::failed : ending;
}

}  // namespace sumplog
