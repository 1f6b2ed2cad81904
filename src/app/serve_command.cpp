#include <boost/asio/io_context.hpp>
#include <boost/asio/posix/stream_descriptor.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/signal_set.hpp>
#include <boost/asio/steady_timer.hpp>
#include <csignal>
#include <iostream>
#include <memory>
#include <optional>

#include "app/commands.h"
#include "app/job_opening.h"
#include "app/job_place.h"
#include "app/journal_printer.h"
#include "app/program_log.h"
#include "core/asker/live_job.h"
#include "core/job/job_settings.h"
#include "core/job/kept_frames.h"
#include "io/can_link.h"
#include "io/can_socket.h"
#include "io/capture_file.h"
#include "io/recorder.h"

namespace sumplog {
namespace {

namespace asio = boost::asio;
using boost::system::error_code;

/// Waits again and again until a descriptor that is not its own is readable.
class Readable {
 public:
  Readable(asio::io_context& loop, int descriptor, std::function<void()> ready)
      : descriptor_(loop, descriptor), ready_(std::move(ready)) {
    wait();
  }
  ~Readable() { descriptor_.release(); }
  Readable(const Readable&) = delete;
  Readable& operator=(const Readable&) = delete;

 private:
  void wait() {
    descriptor_.async_wait(asio::posix::stream_descriptor::wait_read, [this](error_code error) {
      if (error) return;  // cancelled: this object is going away
      // The call may end this object's life: it works on a copy, and nothing of this object is touched after it.
      const auto ready = ready_;
      wait();
      ready();
    });
  }
  asio::posix::stream_descriptor descriptor_;
  std::function<void()> ready_;
};

struct ServedJob {
  JobFile file;
  std::vector<Item> header;  ///< as written
  bool resumed = false;
};

/// The loop of a live job: one thread for core and bus; the disk worker is the recorder's.
class Daemon {
 public:
  Daemon(CanSocket socket, LinkWatch link, JobTime time, ServedJob job, bool keep_all, bool json)
      : bus_(socket.bus()),
        socket_(std::move(socket)),
        link_(std::move(link)),
        time_(std::move(time)),
        path_(job.file.path()),
        keep_all_(keep_all),
        kept_(configured_decoders(job.header)),
        live_(configured_decoders(job.header), bus_, time_.now()),
        printer_(std::cout, json),
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
    open_waits();
    link_ready_.emplace(loop_, link_.descriptor(), [this] { on_link(); });
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

  void open_waits() {
    can_ready_.emplace(loop_, socket_->descriptor(), [this] { on_can(); });
  }

  void submit(Item item) {
    if (recorder_.submit(std::move(item))) return;
    ++refused_;  // the recorder is full: said as an item as soon as there is room
  }

  void on_can() {
    if (!socket_) return;
    ReceivedFrames received;
    const auto ok = socket_->receive(time_, received);
    for (CanFrame& frame : received.frames)
      if (keep_all_ || kept_.keeps(frame)) submit(std::move(frame));
    if (received.dropped + refused_ > 0 &&
        recorder_.submit(ReceiveDrops{time_.now(), bus_, received.dropped + refused_}))
      refused_ = 0;
    if (!ok) {
      log_warning(ok.error().text());
      // Down: the socket stays bound and speaks again when the link is up. Gone: a new one is needed.
      const auto still_there = interface_kind(std::string(bus_.text()));
      if (!still_there) lose_interface();
    }
  }

  void lose_interface() {
    can_ready_.reset();
    socket_.reset();
    submit(LinkEvent{time_.now(), bus_, LinkState::gone});
    gone_ = true;
  }

  void on_link() {
    for (const LinkState state : link_.take()) {
      if (state == LinkState::gone && gone_) continue;
      if (state == LinkState::gone) {
        lose_interface();
        continue;
      }
      if (state == LinkState::up && !socket_) {
        auto again = CanSocket::open(std::string(bus_.text()));
        if (!again) {
          log_warning(again.error().text());
          continue;
        }
        socket_.emplace(std::move(*again));
        gone_ = false;
        open_waits();
      }
      submit(LinkEvent{time_.now(), bus_, state});
    }
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
    LiveOutput out;
    live_.on_time(time_.now(), out);
    carry_out(std::move(out));
    const auto due = live_.deadline();
    if (!due) return;
    timer_.expires_after(std::max(*due - time_.now(), Duration{0}));
    timer_.async_wait([this](error_code error) {
      if (!error) on_time();
    });
  }

  void carry_out(LiveOutput&& out) {
    printer_.print(out.events);
    for (Item& item : out.record) submit(std::move(item));
    if (finished_) return;
    for (const GuardedFrame& frame : out.send) {
      if (!socket_) {
        live_.on_not_sent(frame);
        continue;
      }
      if (auto sent = socket_->send(frame); !sent) {
        log_debug(sent.error().text());
        live_.on_not_sent(frame);
      }
    }
  }

  /// Stop asking, sync the job file, stop. A person who ends it closes the job; the system's signals leave it open.
  void finish(bool close_job) {
    if (finished_) return;
    finished_ = true;
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

  BusName bus_;
  std::optional<CanSocket> socket_;
  LinkWatch link_;
  JobTime time_;
  std::string path_;
  bool keep_all_;
  KeptFrames kept_;
  LiveJob live_;
  JournalPrinter printer_;
  std::vector<Event> last_events_;
  asio::io_context loop_{1};
  Recorder recorder_;
  asio::steady_timer timer_;
  asio::steady_timer end_timer_;
  asio::signal_set signals_;
  std::optional<Readable> can_ready_;
  std::optional<Readable> link_ready_;
  std::optional<Readable> step_ready_;
  std::uint64_t refused_ = 0;  ///< items that the recorder had no room for
  bool gone_ = false;
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

  // The bus first: without one there is no job, and no half-written file.
  auto link = LinkWatch::open(*interface);
  if (!link) return report(link.error(), ExitStatus::failed);
  auto socket = CanSocket::open(*interface);
  if (!socket) return report(socket.error(), ExitStatus::wrong);
  auto time = JobTime::start();
  if (!time) return report(time.error(), ExitStatus::failed);

  if (options.job.empty()) {
    auto job = new_job(common.settings, time->now());
    if (!job) return report(job.error(), ExitStatus::wrong);
    log_info("job file: " + job->file.path());
    const std::vector<Item> header = job->header;
    Daemon daemon(std::move(*socket), std::move(*link), std::move(*time), std::move(*job), record == "all",
                  common.json);
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
  Daemon daemon(std::move(*socket), std::move(*link), std::move(*time),
                ServedJob{std::move(resumed->file), *header, true}, record == "all", common.json);
  if (auto past = daemon.replay_past(options.job, torn); !past)
    return report(past.error(), ExitStatus::wrong);
  log_info("going on with " + options.job);
  return daemon.run(true, options.for_s);
}

}  // namespace sumplog
