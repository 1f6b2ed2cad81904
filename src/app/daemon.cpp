#include "app/daemon.h"

#include <unistd.h>

#include <boost/asio/post.hpp>
#include <cmath>
#include <csignal>
#include <filesystem>
#include <iostream>
#include <utility>

#include "app/job_closing.h"
#include "app/job_opening.h"
#include "app/job_place.h"
#include "app/live_page.h"
#include "app/page_routes.h"
#include "app/program_log.h"
#include "app/table_text.h"
#include "core/item/entry_names.h"
#include "core/job/job_settings.h"
#include "core/record/job_terms.h"
#include "io/capture_file.h"
#include "io/http_status.h"
#include "io/serving_note.h"

namespace sumplog {

namespace asio = boost::asio;
using boost::system::error_code;

namespace {

constexpr auto kFarewell = std::chrono::seconds(2);  // for the last answers and lines to get out
constexpr auto kFarewellLook = std::chrono::milliseconds(10);
constexpr Duration kSweepLineEvery = std::chrono::seconds(5);  // often enough for a person who waits
constexpr double kSecondsPerMinute = 60;

std::string id_of(const std::vector<Item>& header) {
  for (const Item& item : header)
    if (const auto* settings = std::get_if<Settings>(&item)) return settings->job;
  return {};
}

/// Whether the journal goes to standard output. That of a look at the car is not the job's: a replay gives the job's alone.
bool prints(const DaemonOptions& options) {
  return options.scan == nullptr && options.sweep == nullptr && options.setup == nullptr;
}

}  // namespace

Daemon::Daemon(asio::io_context& loop, std::unique_ptr<LivePort> port, JobTime time, HeldJob job,
               const DaemonOptions& options)
    : loop_(loop),
      port_(std::move(port)),
      time_(std::move(time)),
      path_(job.file.path()),
      job_id_(id_of(job.header)),
      options_(options),
      kept_(decoders_of(job.header)),
      live_(decoders_of(job.header), options.asking, time_.now()),
      nowhere_(nullptr),
      printer_(prints(options) ? std::cout : nowhere_, options.json),
      recorder_(std::move(job.file), [this] { asio::post(loop_, [this] { on_written(); }); }),
      desk_([this](Item item, Recorder::Token token) {
        return recorder_.submit_synced(std::move(item), token);
      }),
      timer_(loop_),
      end_timer_(loop_),
      signals_(loop_, SIGINT, SIGTERM, SIGHUP),
      contract_({job_id_, [this] { return state(); }, [terms = job_terms(job.header)] { return terms; },
                 [this] { return entries_.text(); },
                 [this](const EntryWish& wish, WebReply reply) {
                   desk_.enter(wish, time_.now(), recorder_.trouble(), std::move(reply));
                   wait_until_due();
                 },
                 [this](std::string id, std::string bytes, std::string of, std::string by, WebReply reply) {
                   store_photo(std::move(id), std::move(bytes), std::move(of), std::move(by),
                               std::move(reply));
                 },
                 [this](const std::string& sign_over, const WebReply& reply) { close_for(sign_over, reply); },
                 [this](const CourseOptions& drawn, std::optional<Duration> newest) {
                   return course(drawn, newest);
                 },
                 options.setup == nullptr
                     ? WebContract::Job::Setup{}
                     : [desk = options.setup](const WebRequest& request,
                                              const WebReply& reply) { desk->on_request(request, reply); }}),
      photos_([this](std::function<void()> done) { asio::post(loop_, std::move(done)); }),
      run_id_(random_job_id().substr(0, 8)) {}

Daemon::~Daemon() {
  if (web_) remove_serving_note(path_);
}

void Daemon::on_past(const Item& item, bool keep_events) {
  LiveOutput out;
  live_.on_past(item, out);
  for (const Event& event : out.events) (void)keep(event);
  if (const auto* entry = std::get_if<Entry>(&item)) desk_.remember(*entry);
  look_at(item, out.events);
  if (keep_events) last_events_ = std::move(out.events);
}

/// What the page tells of the job as a whole.
void Daemon::look_at(const Item& item, const std::vector<Event>& events) {
  feed(summary_, item, events);
  feed(course_, item, events);
}

Result<void> Daemon::replay_past(bool print_last) {
  auto file = CaptureFile::open(path_);
  if (!file) return tl::unexpected(file.error());
  while (true) {
    auto item = file->next();
    if (!item) return tl::unexpected(item.error());
    if (!*item) break;
    on_past(**item, print_last && std::holds_alternative<Torn>(**item));
  }
  printer_.print(last_events_);
  printer_.flush();
  return {};
}

void Daemon::begin_new(const std::vector<Item>& header) {
  for (const Item& item : header) on_past(item, false);
}

void Daemon::serve(std::unique_ptr<WebServer> page) {
  web_ = std::move(page);
  WebServer::Owner owner;
  owner.no_token_page = no_token_page;
  owner.on_request = [this](WebRequest request, WebReply reply) {
    contract_.on_request(std::move(request), std::move(reply));
  };
  owner.events_after = [this](std::uint64_t after, std::size_t most) {
    return lines_.events_after(after, most);
  };
  owner.first_event = [this](const WebRequest& request) {
    const auto after = request.query.find("after");
    const std::string& seen = !request.last_event_id.empty() ? request.last_event_id
                              : after != request.query.end() ? after->second
                                                             : std::string();
    return lines_.resume_after(std::strtoull(seen.c_str(), nullptr, 10));
  };
  web_->begin(std::move(owner));
  tell_page(*web_);
  const ServingNote note{"http://" + web_->address().text() + "/", web_->token()};
  if (auto written = write_serving_note(path_, note); !written) log_warning(written.error().text());
}

void Daemon::enter(std::string name, std::string fields) {
  submit(Entry{time_.now(), random_entry_id(), std::move(name), std::move(fields)});
}

ExitStatus Daemon::run(bool resumed, std::optional<double> for_s) {
  if (resumed) submit(Resume{time_.now()});
  tell_sweep_at_ = time_.now() + kSweepLineEvery;
  if (options_.sweep != nullptr)
    enter(std::string(kConfirmed), JsonLine()
                                       .text("what", kConfirmedSweep)
                                       .text("origin", text_of(options_.sweep->ranges))
                                       .text("by", options_.sweep->agreed_by)
                                       .take());
  if (options_.scan != nullptr && options_.scan->codes)
    live_.want_scan(options_.scan->stage.empty() ? std::string(kScanDuring) : options_.scan->stage);
  port_->begin({[this] { return time_.now(); }, [this] { on_can(); },
                [this](Item item) { submit(std::move(item)); },
                [this](CanId functional) { return live_.ask_who(functional, time_.now()); },
                [this] { (void)finish(true); }});
  step_ready_.emplace(loop_, time_.step_descriptor(), [this] {
    if (const auto step = time_.take_step()) submit(ClockStep{time_.now(), *step});
  });
  signals_.async_wait([this](error_code error, int signal) {
    const bool may_close = options_.sweep == nullptr && open_ones(summary_.record()).empty();
    if (!error) (void)finish(signal == SIGINT && may_close);
  });
  if (for_s) {
    const std::chrono::microseconds lasts{static_cast<std::int64_t>(*for_s * 1e6)};
    end_at_ = time_.now() + lasts;
    end_timer_.expires_after(lasts);
    end_timer_.async_wait([this](error_code error) {
      if (!error) (void)finish(options_.sweep == nullptr);  // a sweep can be gone on with
    });
  }
  on_time();
  watch_.emplace(loop_, "");
  tell_manager("");
  loop_.run();
  return status_;
}

/// The window is not among it: a line that nobody renews may stand for hours.
void Daemon::tell_manager(const std::string& trouble) const {
  if (!watch_) return;
  const std::string bus(port_->bus().text());
  if (options_.setup != nullptr)
    watch_->status("looking at the car on " + bus + "; the page waits for a choice");
  else
    watch_->status("job " + path_ + " on " + bus + (trouble.empty() ? "" : ": not recording: " + trouble));
}

void Daemon::submit(Item item) {
  if (recorder_.submit(std::move(item))) return;
  ++refused_;  // the recorder is full: said as an item as soon as there is room
}

void Daemon::on_can() {
  if (finished_) return;
  ReceivedFrames received;
  port_->receive(time_, received);
  for (CanFrame& frame : received.frames) {
    if (options_.keep_all || kept_.keeps(frame))
      submit(std::move(frame));
    else
      live_.on_not_kept(frame);
  }
  if (received.dropped + refused_ > 0 &&
      recorder_.submit(ReceiveDrops{time_.now(), port_->bus(), received.dropped + refused_}))
    refused_ = 0;
}

void Daemon::take_written() {
  for (const Item& item : recorder_.take_written()) {
    LiveOutput out;
    live_.on_written(item, out);
    look_at(item, out.events);
    carry_out(std::move(out));
  }
  desk_.on_synced(recorder_.take_synced());
}

void Daemon::on_written() {
  if (auto fault = recorder_.take_fault()) log_error(fault->text());
  watch_disk();
  take_written();
  on_time();
}

/// Says at once that nothing is recorded, and in the record itself when it was so.
void Daemon::watch_disk() {
  const std::string trouble = recorder_.trouble();
  if (!trouble.empty()) {
    if (!disk_fails_since_) {
      disk_fails_since_ = time_.now();
      tell_manager(trouble);
    }
    disk_trouble_ = trouble;
    desk_.on_trouble(trouble);
    return;
  }
  if (!disk_fails_since_ || finished_) return;
  const TimePoint now = time_.now();
  const std::string text = "the disk failed for " + fixed(in_seconds(now - *disk_fails_since_), 1) + " s (" +
                           disk_trouble_ +
                           "); what came meanwhile was kept in memory and stands before this line";
  disk_fails_since_.reset();
  log_info("recording again: " + path_);
  tell_manager("");
  submit(Entry{now, random_entry_id(), std::string(kNote),
               JsonLine().text("text", text).text("by", "sumplog").take()});
}

void Daemon::on_time() {
  if (finished_) return;
  on_can();  // whatever happened before now comes first
  if (const auto rate = port_->bit_rate()) live_.set_bit_rate(*rate);
  LiveOutput out;
  live_.on_time(time_.now(), out);
  carry_out(std::move(out));
  desk_.on_time(time_.now());
  if (options_.scan != nullptr) {
    tell_progress();
    if (live_.finished()) {
      (void)finish(options_.scan->stage.empty());
      return;
    }
  }
  if (options_.sweep != nullptr) tell_sweep(time_.now());
  wait_until_due();
}

void Daemon::wait_until_due() {
  auto due = live_.deadline();
  if (const auto patience = desk_.deadline(); patience && (!due || *patience < *due)) due = patience;
  if (options_.sweep != nullptr && (!due || tell_sweep_at_ < *due)) due = tell_sweep_at_;
  if (!due || finished_) return;
  timer_.expires_after(std::max(*due - time_.now(), Duration{0}));
  timer_.async_wait([this](error_code error) {
    if (!error) on_time();
  });
}

/// For a person who waits; not into a pipe.
void Daemon::tell_progress() {
  if (isatty(STDERR_FILENO) == 0) return;
  const auto [done, known] = live_.scan_progress();
  if (known == 0 || done == told_done_) return;
  told_done_ = done;
  std::cerr << "\rscan: " << done << " of " << known << " questions so far   " << std::flush;
}

/// One line every few seconds, into a pipe too: a sweep takes as long as a car takes to warm.
void Daemon::tell_sweep(TimePoint now) {
  if (now < tell_sweep_at_) return;
  tell_sweep_at_ = now + kSweepLineEvery;
  std::string line = "sweep: " + live_.sweep()->status();
  if (end_at_)
    line += ", " + fixed(std::ceil(in_seconds(*end_at_ - now) / kSecondsPerMinute), 0) + " min to go";
  std::cerr << line << std::endl;
}

void Daemon::carry_out(LiveOutput&& out) {
  show(out.events);
  for (const Item& item : out.record)
    if (!recorder_.submit(item) && !live_.on_refused(item, time_.now())) ++refused_;
  if (finished_) return;
  for (const GuardedFrame& frame : out.send)
    if (!port_->send(frame)) live_.on_not_sent(frame);
}

void Daemon::show(const std::vector<Event>& events) {
  if (events.empty()) return;
  for (const Event& event : events) {
    printer_.print(event, keep(event));
    if (const auto* cue = std::get_if<CueEvent>(&event); cue != nullptr && options_.cues != nullptr)
      options_.cues->on_cue(*cue);
  }
  printer_.flush();
  if (prints(options_) && printer_.failed() && !std::exchange(told_unprinted_, true))
    log_warning("standard output cannot be written any more; the job goes on without it");
  if (web_) web_->wake_streams();
}

/// For those who look at the job over its page, now or later. out  the event's journal line
std::string Daemon::keep(const Event& event) {
  std::string line = journal_line(event);
  newest_.on_event(event, line);
  entries_.on_event(event, line);
  lines_.add(line);
  return line;
}

std::string Daemon::state() const {
  const std::string trouble = recorder_.trouble();
  JsonLine recording;
  recording.flag("ok", trouble.empty());
  if (!trouble.empty()) {
    recording.text("why", "not recording: " + trouble);
    recording.integer("kept_in_memory", static_cast<std::int64_t>(recorder_.kept_in_memory()));
  }
  const TimePoint now = time_.now();
  JsonLine line;
  line.time("t", now).text("program", program_text()).text("run", run_id_).text("job", job_id_);
  line.text("file", std::filesystem::path(path_).filename().string());
  line.text("bus", std::string(port_->bus().text()));
  line.integer("line", static_cast<std::int64_t>(lines_.last()));
  line.raw("recording", recording.take());
  newest_.write(line, now);
  line.raw("summary", json(summary_.record()));
  return line.take();
}

std::string Daemon::course(CourseOptions options, std::optional<Duration> newest) const {
  options.now = time_.now();
  if (newest) options.from = *options.now - *newest;
  options.clock = local_clock;
  // A page may show more than one: parts of a picture are named by its id.
  options.id = "course-" + std::to_string(options.width) + "-" + std::to_string(options.height) +
               (newest ? "-newest" : "") + (options.fahrenheit ? "-f" : "");
  return course_.svg(options);
}

void Daemon::store_photo(std::string id, std::string bytes, std::string of, std::string by, WebReply reply) {
  photos_.store(
      path_, std::move(bytes),
      [this, id = std::move(id), of = std::move(of), by = std::move(by),
       reply = std::move(reply)](Result<StoredPhoto> stored) {
        if (!stored) {
          const bool ours = stored.error().place.empty();  // no place: it is the content
          reply(web_fault(ours ? http_status::kNotAccepted : http_status::kUnavailable, stored.error()));
          return;
        }
        desk_.enter({id, std::string(kPhoto), stored->fields(of, by)}, time_.now(), recorder_.trouble(),
                    reply);
        wait_until_due();
      });
}

void Daemon::close_for(const std::string& sign_over, const WebReply& reply) {
  if (finished_) {
    reply(web_fault(http_status::kConflict, Fault{"this job is being closed already", path_, ""}));
    return;
  }
  const std::vector<OpenItem> open = open_ones(summary_.record());
  if (!open.empty() && sign_over.empty()) {
    reply(web_fault(http_status::kConflict, open_items_fault(open, path_)));
    return;
  }
  // A job that is closed is a file that holds it. Meanwhile the job goes on: what is kept in memory is not thrown away.
  if (const std::string trouble = recorder_.trouble(); !trouble.empty()) {
    reply(web_fault(http_status::kUnavailable,
                    Fault{"not closed: " + trouble, path_,
                          "what came meanwhile is kept in memory; close the job when "
                          "it is recorded again"}));
    return;
  }
  for (const Entry& entry : signed_over(open, sign_over, time_.now())) submit(entry);
  if (auto ended = finish(true); !ended) {
    reply(web_fault(http_status::kUnavailable, ended.error()));
    return;
  }
  auto told = closed_text(path_);
  if (told)
    reply(WebAnswer{200, "application/json", *told + "\n", {}});
  else
    reply(web_fault(http_status::kUnavailable, told.error()));
}

/// Stop asking, sync the job file, stop. A job that is not closed can be gone on with.
Result<void> Daemon::finish(bool close_job) {
  if (finished_) return {};
  if (told_done_ > 0) std::cerr << '\n';
  if (options_.sweep != nullptr) {
    options_.sweep->went_on = live_.sweep()->goes_on();
    std::cerr << "sweep: " << live_.sweep()->status() << ", ended" << std::endl;
  }
  if (watch_ && options_.setup == nullptr) watch_->stopping();
  on_can();
  finished_ = true;
  auto ended = close_job ? recorder_.close(time_.now()) : recorder_.stop();
  take_written();
  if (!ended) {
    desk_.on_trouble(ended.error().text());
    status_ = report(ended.error(), ExitStatus::failed);
  }
  if (options_.setup == nullptr)
    log_info(close_job && ended
                 ? "job closed: " + path_
                 : "job left open: " + path_ + "; go on with serve --job, or end it with jobs close");
  if (web_) {
    web_->stop();
    end_timer_.expires_after(kFarewell);
    asio::post(loop_, [this] { leave_loop(); });
  } else {
    loop_.stop();
  }
  return ended;
}

/// Once the last answers and lines are out, or do not get out.
void Daemon::leave_loop() {
  const bool patient = end_timer_.expiry() > std::chrono::steady_clock::now();
  if (!patient || (web_->answers_under_way() == 0 && web_->connections() == 0)) {
    loop_.stop();
    return;
  }
  timer_.expires_after(kFarewellLook);
  timer_.async_wait([this](error_code error) {
    if (!error) leave_loop();
  });
}

}  // namespace sumplog
