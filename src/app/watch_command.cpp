#include <unistd.h>

#include <chrono>
#include <cstdlib>
#include <iostream>
#include <nlohmann/json.hpp>
#include <thread>

#include "app/commands.h"
#include "app/event_lines.h"
#include "app/followed_time.h"
#include "app/job_finding.h"
#include "app/job_look.h"
#include "app/job_place.h"
#include "app/watch_view.h"
#include "io/job_file.h"
#include "io/job_time.h"
#include "io/serving_note.h"
#include "io/web_stream.h"

namespace sumplog {
namespace {

using Clock = std::chrono::steady_clock;
using namespace std::chrono_literals;

constexpr auto kPatience = 1s;  // for an answer: a program that lives answers at once
constexpr auto kEvery = 1s;     // a status line
constexpr auto kLookEvery = 5s;

double seconds_since(Clock::time_point then) {
  return std::chrono::duration<double>(Clock::now() - then).count();
}

/// The job that is held in the data folder.
Result<std::string> held_job(const ProgramSettings& settings) {
  const auto files = job_files(data_folder(settings));
  if (!files) return tl::unexpected(files.error());
  std::vector<std::string> held;
  for (const std::string& path : *files)
    if (JobFile::is_held(path)) held.push_back(path);
  if (held.size() == 1) return held.front();
  return fault(held.empty() ? "no job is running" : "several jobs are running", data_folder(settings),
               "name one: its file, or the beginning of its id");
}

/// Follows the program that holds a job, over its page.
class Watch {
 public:
  Watch(std::string job, JobTime clock, bool json, bool fahrenheit)
      : job_(std::move(job)),
        clock_(std::move(clock)),
        json_(json),
        terminal_(!json && isatty(STDOUT_FILENO) != 0),
        colour_(terminal_ && std::getenv("NO_COLOR") == nullptr),
        view_(fahrenheit) {}

  ExitStatus run(std::optional<double> for_s) {
    const auto begun = Clock::now();
    auto next_status = begun;
    while (std::cout && (!for_s || seconds_since(begun) < *for_s)) {
      if (!stream_ && !connect() && is_over()) {
        say("the job is closed");
        return ExitStatus::done;
      }
      follow(next_status);
      if (Clock::now() < next_status) continue;
      next_status += kEvery;
      show_status();
    }
    if (terminal_) std::cout << '\n';
    return ExitStatus::done;
  }

 private:
  bool connect() {
    const auto note = read_serving_note(job_);
    if (!note) return false;
    auto place = parse_web_place(note->url);
    if (!place) return false;
    place->token = note->token;
    const auto id = job_id_of(job_);
    if (!id) return false;
    const TimePoint asked = clock_.now();
    const auto state = ask_web(*place, {"GET", "/api/state?job=" + *id, {}, {}}, kPatience);
    if (!state) return false;
    const auto told = nlohmann::json::parse(state->body, nullptr, false);
    if (!told.is_object() || !told.contains("line") || !told["line"].is_number_unsigned() ||
        !told.contains("t") || !told["t"].is_number())
      return false;
    job_time_.set(told["t"], asked);
    const std::uint64_t line = told["line"];
    // A program that was started again may have lost the newest lines: it begins where it is.
    if (!seen_ || *seen_ > line) {
      seen_ = line;
      take_newest(told);
    }
    auto stream =
        WebStream::open(*place, "/api/events?after=" + std::to_string(*seen_) + "&job=" + *id, kPatience);
    if (!stream) return false;
    stream_.emplace(std::move(*stream));
    lines_ = EventLines();
    if (std::exchange(lost_, false)) say("connected again");
    return true;
  }

  void take_newest(const nlohmann::json& state) {
    const auto newest = state.find("newest");
    if (newest == state.end() || !newest->is_object()) return;
    for (const auto& one : *newest)
      if (one.is_object() && one.contains("line")) (void)view_.on_line(one["line"].dump());
    const auto by_hand = nlohmann::json::json_pointer("/readings/by_hand/line");
    if (newest->contains(by_hand)) (void)view_.on_line(newest->at(by_hand).dump());
  }

  void follow(Clock::time_point until) {
    const auto left = std::chrono::duration_cast<std::chrono::milliseconds>(until - Clock::now());
    const auto patience = std::max(left, std::chrono::milliseconds(1));
    if (!stream_) {
      std::this_thread::sleep_for(patience);
      return;
    }
    const auto came = stream_->read(patience);
    if (!came) {
      stream_.reset();
      lost_ = true;
      say("the program that holds the job does not answer");
      return;
    }
    lines_.on_bytes(*came);
    while (const auto one = lines_.next()) {
      seen_ = one->id;
      const std::vector<std::string> said = view_.on_line(one->data);
      job_time_.not_before(view_.latest_s(), clock_.now());
      if (json_)
        std::cout << one->data << std::endl;
      else
        for (const std::string& row : said) say(row);
    }
  }

  /// An event stands on a line of its own, above the status.
  void say(const std::string& text) { std::cout << (terminal_ ? "\r\x1b[K" : "") << text << std::endl; }

  void show_status() {
    if (!terminal_) return;
    const double now_s = job_time_.now_s(clock_.now());
    const std::string text = stream_ ? view_.status(now_s) : "no live reading: no program answers";
    const std::string check = stream_ ? view_.check(now_s) : std::string();
    const bool strong = colour_ && (check == "may start" || check == "stop");
    std::cout << "\r\x1b[K" << (strong ? check == "stop" ? "\x1b[7m" : "\x1b[1m" : "") << text
              << (strong ? "\x1b[0m" : "") << std::flush;
  }

  /// It reads the whole file, so not every time.
  [[nodiscard]] bool is_over() {
    if (JobFile::is_held(job_) || Clock::now() < look_again_) return false;
    look_again_ = Clock::now() + kLookEvery;
    const auto look = look_at_job(job_);
    return look && look->record.ended;
  }

  std::string job_;
  JobTime clock_;  ///< goes on while the machine sleeps, as job time does
  bool json_;
  bool terminal_;
  bool colour_;
  WatchView view_;
  EventLines lines_;
  std::optional<WebStream> stream_;
  std::optional<std::uint64_t> seen_;  ///< number of the newest line
  bool lost_ = false;
  Clock::time_point look_again_{};
  FollowedTime job_time_;
};

}  // namespace

ExitStatus run_watch(const CommonOptions& common, const WatchOptions& options) {
  const auto job = options.job.empty() ? held_job(common.settings) : find_job(common.settings, options.job);
  if (!job) return report(job.error(), ExitStatus::wrong);
  auto clock = JobTime::start();
  if (!clock) return report(clock.error(), ExitStatus::failed);
  return Watch(*job, std::move(*clock), common.json, options.fahrenheit).run(options.for_s);
}

}  // namespace sumplog
