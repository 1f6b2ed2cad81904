#include <ctime>
#include <filesystem>
#include <iostream>

#include "app/commands.h"
#include "app/output_file.h"
#include "app/recording_walk.h"
#include "core/decoder/decoder.h"
#include "core/diagnostics/interpreter.h"
#include "core/item/json_line.h"
#include "core/learn/learn_sheet.h"
#include "core/learn/learned_decoder.h"
#include "core/learn/payload_log.h"
#include "core/learn/seen_text.h"

namespace sumplog {
namespace {

namespace fs = std::filesystem;

/// A capture as the search needs it.
struct Gathered {
  std::optional<PayloadLog> log;
  Evidence evidence;
  std::optional<TimePoint> begin;
};

/// Runs a recording through the core and keeps what may be the fluid temperature, and what is known beside it.
ExitStatus gather(Recording& recording, Gathered& gathered) {
  return walk(
      recording,
      [&](const std::vector<Decoder>& decoders) { gathered.log.emplace(AddressBook(named_units(decoders))); },
      [&](const Item& item, const Output& out) {
        if (const auto* frame = std::get_if<CanFrame>(&item)) {
          if (!gathered.begin) gathered.begin = frame->at;
          gathered.log->on_frame(*frame);
        }
        for (const Exchange& exchange : out.exchanges) gathered.log->on_exchange(exchange);
        for (const Event& event : out.events)
          if (const auto* reading = std::get_if<ReadingEvent>(&event)) gathered.evidence.on_reading(*reading);
      });
}

/// The first such time of day at or after `begin`, by the clock of this computer.
TimePoint on_the_day(TimePoint begin, const TimeOfDay& clock) {
  constexpr std::int64_t kMicros = 1'000'000;
  const auto seconds = static_cast<std::time_t>(micros(begin) / kMicros);
  std::tm day{};
  localtime_r(&seconds, &day);
  day.tm_hour = clock.hour;
  day.tm_min = clock.minute;
  day.tm_sec = 0;
  day.tm_isdst = -1;
  const auto place = [&] {
    return at_micros(std::mktime(&day) * kMicros + static_cast<std::int64_t>(clock.second * 1e6));
  };
  TimePoint at = place();
  if (at < begin) {
    ++day.tm_mday;
    day.tm_isdst = -1;
    at = place();
  }
  return at;
}

/// Which of the signals is written.
Result<const FoundSignal*> chosen(const SearchResult& result, const std::optional<int>& which) {
  if (which) {
    if (*which < 1 || static_cast<std::size_t>(*which) > result.signals.size())
      return fault("there are " + std::to_string(result.signals.size()) + " signals",
                   "--signal " + std::to_string(*which));
    return &result.signals[static_cast<std::size_t>(*which - 1)];
  }
  if (!result.confident())
    return fault("no signal is sure enough to be written", "--write",
                 "take a further reading as advised, or choose one with --signal N");
  return &result.signals.front();
}

ExitStatus write_decoder(const LearnOptions& options, const SearchResult& result, const Gathered& gathered) {
  const auto signal = chosen(result, options.signal);
  if (!signal) return report(signal.error(), ExitStatus::failed);
  fs::path folder = options.write;
  if (!folder.has_filename()) folder = folder.parent_path();
  const auto decoder = learned_decoder(folder.filename().string(), (*signal)->preferred(), **signal, result,
                                       gathered.evidence, *gathered.log);
  if (!decoder) return report(decoder.error(), ExitStatus::wrong);
  std::error_code error;
  if (fs::exists(folder, error))
    return report(Fault{"exists already", folder.string(), "give another name, or remove it"},
                  ExitStatus::wrong);
  fs::create_directories(folder, error);
  if (error)
    return report(Fault{"cannot be made: " + error.message(), folder.string(), {}}, ExitStatus::failed);
  for (const auto& [name, text] :
       {std::pair{"signals.toml", &decoder->signals}, std::pair{"notes.md", &decoder->notes}}) {
    auto file = OutputFile::create((folder / name).string());
    if (!file) return report(file.error(), ExitStatus::failed);
    file->write(*text);
    if (auto done = file->finish(); !done) return report(done.error(), ExitStatus::failed);
  }
  std::cerr << "sumplog: written to " << folder.string() << "; check it with: sumplog decoders check "
            << folder.string() << '\n';
  return ExitStatus::done;
}

ExitStatus learn_from(const std::string& path, const CommonOptions& common, const LearnOptions& options) {
  auto recording = Recording::open(path, common.settings);
  if (!recording) return report(recording.error(), ExitStatus::wrong);
  Gathered gathered;
  const ExitStatus ending = gather(*recording, gathered);
  if (ending != ExitStatus::done) return ending;
  if (!gathered.log || !gathered.begin)
    return report(Fault{"there is no frame in it", path, "record the whole bus: --record all"},
                  ExitStatus::wrong);
  for (const std::string& text : options.seen) {
    auto seen = parse_seen(text, *gathered.begin,
                           [&](const TimeOfDay& clock) { return on_the_day(*gathered.begin, clock); });
    if (!seen) return report(seen.error(), ExitStatus::wrong);
    gathered.evidence.seen.push_back(*seen);
  }
  gathered.evidence.soak_c = options.soak_c;
  const SearchResult result = search_fluid(*gathered.log, gathered.evidence, *gathered.begin);
  for (const SeenTemperature& seen : gathered.evidence.seen)
    if (seen.at < result.begin || seen.at > result.end)
      std::cerr << "sumplog: the reading " << fixed(seen.temp_c, 1)
                << " °C lies outside of the recording and is not used\n";
  if (gathered.log->turned_away() > 0)
    std::cerr << "sumplog: more sources than can be kept, or of more than 64 bytes; some were left out\n";
  const auto lines =
      common.json ? learn_lines(result, gathered.evidence) : learn_sheet(result, gathered.evidence);
  for (const std::string& line : lines) std::cout << line << '\n';
  if (!options.write.empty()) return write_decoder(options, result, gathered);
  return result.confident() ? ExitStatus::done : ExitStatus::failed;
}

}  // namespace

ExitStatus run_learn(const CommonOptions& common, const LearnOptions& options) {
  std::string path = options.capture;
  const bool car_named = common.settings.value("interface") || !options.sweep.ranges.empty();
  if (path.empty() && !car_named)
    return report(Fault{"nothing to learn from", "learn", "name a recording, or --interface and --ask"},
                  ExitStatus::wrong);
  if (!path.empty() && !options.sweep.ranges.empty())
    return report(Fault{"a recording and a car at once", "learn", "leave out --ask, or " + path},
                  ExitStatus::wrong);
  if (path.empty()) {
    const ExitStatus swept = run_sweep(common, options.sweep, path);
    // What was recorded until it was stopped may be enough.
    if (path.empty() || swept == ExitStatus::wrong) return swept;
  }
  return learn_from(path, common, options);
}

}  // namespace sumplog
