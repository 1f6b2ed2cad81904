#include <unistd.h>

#include <boost/asio/io_context.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/signal_set.hpp>
#include <boost/asio/steady_timer.hpp>
#include <csignal>
#include <cstdlib>
#include <iostream>
#include <memory>
#include <optional>

#include "app/bus_port.h"
#include "app/commands.h"
#include "app/job_opening.h"
#include "app/job_place.h"
#include "app/journal_printer.h"
#include "app/program_log.h"
#include "app/rate_setting.h"
#include "core/asker/live_job.h"
#include "core/item/entry_names.h"
#include "core/job/job_settings.h"
#include "core/job/kept_frames.h"
#include "io/capture_file.h"
#include "io/recorder.h"

namespace sumplog {
namespace {

namespace asio = boost::asio;
using boost::system::error_code;

struct ServedJob {
  JobFile file;
  std::vector<Item> header;  ///< as written
  bool resumed = false;
};

/// The loop of a live job: one thread for core and bus; the disk worker is the recorder's.
class Daemon {
 public:
  Daemon(asio::io_context& loop, std::unique_ptr<BusPort> port, JobTime time, ServedJob job, bool keep_all,
         const AskerSettings& asking, bool json, const ScanJob* scan)
      : loop_(loop),
        port_(std::move(port)),
        time_(std::move(time)),
        path_(job.file.path()),
        keep_all_(keep_all),
        kept_(configured_decoders(job.header)),
        live_(configured_decoders(job.header), asking, time_.now()),
        scan_(scan),
        nowhere_(nullptr),
        printer_(scan_ != nullptr ? nowhere_ : std::cout, json),
        recorder_(std::move(job.file), [this] { asio::post(loop_, [this] { on_written(); }); }),
        timer_(loop_),
        end_timer_(loop_),
        signals_(loop_, SIGINT, SIGTERM, SIGHUP) {}

  /// The past of a resumed job; its end may hold what mending the file added, which nobody has printed yet.
  Result<void> replay_past(const std::string& path, bool print_last) {
    auto file = CaptureFile::open(path);
    if (!file) return tl::unexpected(file.error());
    while (true) {
      auto item = file->next();
      if (!item) return tl::unexpected(item.error());
      if (!*item) break;
      LiveOutput out;
      live_.on_past(**item, out);
      if (print_last && std::holds_alternative<Torn>(**item)) last_events_ = std::move(out.events);
    }
    printer_.print(last_events_);
    return {};
  }
  void begin_new(const std::vector<Item>& header) {
    for (const Item& item : header) {
      LiveOutput out;
      live_.on_past(item, out);
    }
  }

  ExitStatus run(bool resumed, std::optional<double> for_s) {
    if (resumed) submit(Resume{time_.now()});
    if (scan_ != nullptr && scan_->codes)
      live_.want_scan(scan_->stage.empty() ? std::string(kScanDuring) : scan_->stage);
    port_->begin({[this] { return time_.now(); }, [this] { on_can(); },
                  [this](Item item) { submit(std::move(item)); },
                  [this](CanId functional) { return live_.ask_who(functional, time_.now()); }});
    step_ready_.emplace(loop_, time_.step_descriptor(), [this] {
      if (const auto step = time_.take_step()) submit(ClockStep{time_.now(), *step});
    });
    signals_.async_wait([this](error_code error, int signal) {
      if (!error) finish(signal == SIGINT);
    });
    if (for_s) {
      end_timer_.expires_after(std::chrono::microseconds(static_cast<std::int64_t>(*for_s * 1e6)));
      end_timer_.async_wait([this](error_code error) {
        if (!error) finish(true);
      });
    }
    on_time();
    loop_.run();
    return status_;
  }

 private:
  static std::vector<Decoder> configured_decoders(const std::vector<Item>& header) {
    ConfigurationReader reader;
    for (const Item& item : header) reader.on_item(item);
    return reader.finish().decoders;
  }

  void submit(Item item) {
    if (recorder_.submit(std::move(item))) return;
    ++refused_;  // the recorder is full: said as an item as soon as there is room
  }

  void on_can() {
    ReceivedFrames received;
    port_->receive(time_, received);
    for (CanFrame& frame : received.frames) {
      if (keep_all_ || kept_.keeps(frame))
        submit(std::move(frame));
      else
        live_.on_not_kept(frame);
    }
    if (received.dropped + refused_ > 0 &&
        recorder_.submit(ReceiveDrops{time_.now(), port_->bus(), received.dropped + refused_}))
      refused_ = 0;
  }

  void on_written() {
    if (auto fault = recorder_.take_fault()) log_error(fault->text());
    for (const Item& item : recorder_.take_written()) {
      LiveOutput out;
      live_.on_written(item, out);
      carry_out(std::move(out));
    }
    on_time();
  }

  void on_time() {
    if (finished_) return;
    on_can();  // whatever happened before now comes first
    if (const auto rate = port_->bit_rate()) live_.set_bit_rate(*rate);
    LiveOutput out;
    live_.on_time(time_.now(), out);
    carry_out(std::move(out));
    if (scan_ != nullptr) {
      tell_progress();
      if (live_.finished()) {
        finish(scan_->stage.empty());
        return;
      }
    }
    const auto due = live_.deadline();
    if (!due) return;
    timer_.expires_after(std::max(*due - time_.now(), Duration{0}));
    timer_.async_wait([this](error_code error) {
      if (!error) on_time();
    });
  }

  /// For a person who waits; not into a pipe.
  void tell_progress() {
    if (isatty(STDERR_FILENO) == 0) return;
    const auto [done, known] = live_.scan_progress();
    if (known == 0 || done == told_done_) return;
    told_done_ = done;
    std::cerr << "\rscan: " << done << " of " << known << " questions so far   " << std::flush;
  }

  void carry_out(LiveOutput&& out) {
    printer_.print(out.events);
    for (Item& item : out.record) submit(std::move(item));
    if (finished_) return;
    for (const GuardedFrame& frame : out.send)
      if (!port_->send(frame)) live_.on_not_sent(frame);
  }

  /// Stop asking, sync the job file, stop. A person who ends it closes the job; the system's signals leave it open.
  void finish(bool close_job) {
    if (finished_) return;
    finished_ = true;
    if (told_done_ > 0) std::cerr << '\n';
    on_can();
    auto ended = close_job ? recorder_.close(time_.now()) : recorder_.stop();
    for (const Item& item : recorder_.take_written()) {
      LiveOutput out;
      live_.on_written(item, out);
      carry_out(std::move(out));
    }
    if (!ended) status_ = report(ended.error(), ExitStatus::failed);
    log_info(close_job ? "job closed: " + path_ : "job left open: " + path_ + "; go on with --job");
    loop_.stop();
  }

  asio::io_context& loop_;
  std::unique_ptr<BusPort> port_;
  JobTime time_;
  std::string path_;
  bool keep_all_;
  KeptFrames kept_;
  LiveJob live_;
  const ScanJob* scan_;  ///< nullptr: a job that goes on until somebody ends it
  std::size_t told_done_ = 0;
  std::ostream nowhere_;
  JournalPrinter printer_;
  std::vector<Event> last_events_;
  Recorder recorder_;
  asio::steady_timer timer_;
  asio::steady_timer end_timer_;
  asio::signal_set signals_;
  std::optional<Readable> step_ready_;
  std::uint64_t refused_ = 0;  ///< items that the recorder had no room for
  bool finished_ = false;
  ExitStatus status_ = ExitStatus::done;
};

Result<ServedJob> new_job(const ProgramSettings& settings, TimePoint start) {
  const std::string job = random_job_id();
  auto opening = opening_items(settings, job, start);
  if (!opening) return tl::unexpected(opening.error());
  auto created = JobFile::create(new_job_path(settings, start, job), *opening);
  if (!created) return tl::unexpected(created.error());
  return ServedJob{std::move(created->file), std::move(created->header), false};
}

/// err  a bit rate or a sample point that is none, with its place
Result<PortWish> port_wish(const ProgramSettings& settings) {
  PortWish wish{*settings.value("interface"), std::nullopt, std::nullopt};
  const auto number = [&](std::string_view key, double low, double high) -> Result<std::optional<double>> {
    const auto text = settings.value(key);
    if (!text || *text == "auto") return std::nullopt;
    char* end = nullptr;
    const double value = std::strtod(text->c_str(), &end);
    if (text->empty() || *end != '\0' || !(value >= low && value <= high))
      return fault("'" + *text + "' does not fit", settings.place(key),
                   key == "bitrate" ? "auto, or bit/s from 5000 to 1000000" : "auto, or from 0.5 to 0.95");
    return value;
  };
  const auto rate = number("bitrate", 5'000, 1'000'000);  // ISO 11898-2 ends at 1 Mbit/s
  if (!rate) return tl::unexpected(rate.error());
  if (*rate) wish.bit_rate = static_cast<std::uint32_t>(**rate);
  const auto sample = number("sample_point", 0.5, 0.95);
  if (!sample) return tl::unexpected(sample.error());
  wish.sample_point = *sample;
  return wish;
}

/// The opening items of a job file.
Result<std::vector<Item>> header_of(const std::string& path) {
  auto file = CaptureFile::open(path);
  if (!file) return tl::unexpected(file.error());
  std::vector<Item> header;
  while (true) {
    auto item = file->next();
    if (!item) return tl::unexpected(item.error());
    const bool opens =
        *item && (std::holds_alternative<Settings>(**item) || std::holds_alternative<DecoderText>(**item));
    if (!opens) return header;
    header.push_back(std::move(**item));
  }
}

}  // namespace

ExitStatus run_serve(const CommonOptions& common, const ServeOptions& options) {
  start_log(common.verbose);
  const auto interface = common.settings.value("interface");
  if (!interface)
    return report(
        Fault{"no interface is named", "--interface", "for example: sumplog serve --interface can0"},
        ExitStatus::wrong);
  const std::string record = common.settings.value("record").value_or("needed");
  if (record != "needed" && record != "all")
    return report(Fault{"'" + record + "' is neither needed nor all", common.settings.place("record"), ""},
                  ExitStatus::wrong);

  auto wish = port_wish(common.settings);
  if (!wish) return report(wish.error(), ExitStatus::wrong);

  // The bus first: without one there is no job, and no half-written file.
  asio::io_context loop{1};
  auto port = BusPort::open(loop, std::move(*wish));
  if (!port) {
    const bool unknown =
        !SerialAdapter::names_port(*interface) && interface_state(*interface) == LinkState::gone;
    return report(port.error(), unknown ? ExitStatus::wrong : ExitStatus::failed);
  }
  auto asking = asker_settings(common.settings, (*port)->bus());
  if (!asking) return report(asking.error(), ExitStatus::wrong);
  if (options.scan != nullptr) asking->purpose = PlanPurpose::who;
  auto time = JobTime::start();
  if (!time) return report(time.error(), ExitStatus::failed);

  if (options.job.empty()) {
    auto job = new_job(common.settings, time->now());
    if (!job) return report(job.error(), ExitStatus::wrong);
    log_info("job file: " + job->file.path());
    if (options.scan != nullptr) options.scan->path = job->file.path();
    const std::vector<Item> header = job->header;
    Daemon daemon(loop, std::move(*port), std::move(*time), std::move(*job), record == "all", *asking,
                  common.json, options.scan);
    daemon.begin_new(header);
    return daemon.run(false, options.for_s);
  }
  auto resumed = JobFile::resume(options.job, time->now());
  if (!resumed) return report(resumed.error(), ExitStatus::wrong);
  if (resumed->changed)
    log_warning(options.job + ": a seal does not fit; the file was changed before line " +
                std::to_string(resumed->changed->last));
  auto header = header_of(options.job);
  if (!header) return report(header.error(), ExitStatus::wrong);
  const bool torn = resumed->torn_bytes.has_value();
  Daemon daemon(loop, std::move(*port), std::move(*time), ServedJob{std::move(resumed->file), *header, true},
                record == "all", *asking, common.json, options.scan);
  if (auto past = daemon.replay_past(options.job, torn); !past)
    return report(past.error(), ExitStatus::wrong);
  log_info("going on with " + options.job);
  return daemon.run(true, options.for_s);
}

}  // namespace sumplog
