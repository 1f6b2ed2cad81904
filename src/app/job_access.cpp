#include "app/job_access.h"

#include <chrono>
#include <nlohmann/json.hpp>
#include <optional>
#include <thread>

#include "app/event_lines.h"
#include "app/job_closing.h"
#include "app/job_finding.h"
#include "app/job_look.h"
#include "core/item/entry_names.h"
#include "core/item/json_line.h"
#include "core/journal/event_reader.h"
#include "io/capture_file.h"
#include "io/direct_recorder.h"
#include "io/http_status.h"
#include "io/job_time.h"
#include "io/photo_store.h"
#include "io/serving_note.h"
#include "io/web_client.h"
#include "io/web_stream.h"

namespace sumplog {
namespace {

// Another command holds a job for a moment, a `serve` that starts has no note yet.
constexpr int kTries = 50;
constexpr auto kPause = std::chrono::milliseconds(100);

// Of a scan that another program does: it answers at once, or not at all.
constexpr auto kAnswerPatience = std::chrono::seconds(5);
constexpr auto kLookEvery = std::chrono::milliseconds(500);

/// The `serve` that holds this job. Nothing: nobody holds it.
/// err  it is held, and says nowhere how to reach it
Result<std::optional<WebPlace>> holder_of(const std::string& path) {
  for (int left = kTries; left > 0; --left) {
    if (!JobFile::is_held(path)) return std::nullopt;
    if (const auto note = read_serving_note(path)) {
      auto place = parse_web_place(note->url);
      if (!place) return tl::unexpected(place.error());
      place->token = note->token;
      return *place;
    }
    std::this_thread::sleep_for(kPause);
  }
  return fault("another sumplog holds this job and serves no page", path,
               "stop it, or start it without --listen off");
}

std::string text_at(const nlohmann::json& object, const char* key) {
  const auto found = object.find(key);
  return found != object.end() && found->is_string() ? found->get<std::string>() : std::string();
}

tl::unexpected<Refusal> refused(Fault fault) {
  return tl::unexpected(Refusal{std::move(fault), false});
}
tl::unexpected<Refusal> failed(Fault fault) {
  return tl::unexpected(Refusal{std::move(fault), true});
}

Recorded ask(const WebPlace& place, const std::string& path, const std::string& target,
             const std::string& type, std::string body) {
  constexpr unsigned kFirstFailure = 500;
  const auto id = job_id_of(path);
  if (!id) return refused(id.error());
  const std::string joiner = target.find('?') == std::string::npos ? "?" : "&";
  auto answer = ask_web(place, {"POST", target + joiner + "job=" + *id, type, std::move(body)});
  if (!answer) return failed(answer.error());
  while (!answer->body.empty() && answer->body.back() == '\n') answer->body.pop_back();
  if (answer->status == http_status::kOk) return std::move(answer->body);
  const auto said = nlohmann::json::parse(answer->body, nullptr, false);
  if (!said.is_object())
    return failed(
        Fault{"answer " + std::to_string(answer->status) + " of the program that holds the job", path, {}});
  const std::string where = text_at(said, "where");
  return tl::unexpected(
      Refusal{Fault{text_at(said, "error"), where.empty() ? path : where, text_at(said, "way_out")},
              answer->status >= kFirstFailure});
}

struct OpenedJob {
  DirectRecorder recorder;
  JobTime time;
};

Result<OpenedJob> open_job(const std::string& path) {
  auto time = JobTime::start();
  if (!time) return tl::unexpected(time.error());
  auto resumed = JobFile::resume(path, time->now());
  if (!resumed) return tl::unexpected(resumed.error());
  return OpenedJob{DirectRecorder(std::move(resumed->file)), std::move(*time)};
}

/// The entry of a job file that has this id. The first: the core hears no other.
Result<std::optional<Entry>> entry_in_file(const std::string& path, const std::string& id) {
  auto file = CaptureFile::open(path);
  if (!file) return tl::unexpected(file.error());
  while (true) {
    auto item = file->next();
    if (!item) return tl::unexpected(item.error());
    if (!*item) return std::nullopt;
    if (auto* const entry = std::get_if<Entry>(&**item); entry != nullptr && entry->id == id)
      return std::move(*entry);
  }
}

/// What `serve` does with a repeated id is done here too: the same content gets the first answer, another one is refused.
Recorded record_in_file(const std::string& path, const EntryWish& wish) {
  auto job = open_job(path);
  if (!job) return refused(job.error());
  const auto first = entry_in_file(path, wish.id);
  if (!first) return failed(first.error());
  if (*first) {
    if (content_of((*first)->name, (*first)->fields) != content_of(wish.name, wish.fields))
      return refused(taken_id(wish.id));
    return recorded_text(wish.id, (*first)->at);
  }
  const TimePoint at = job->time.now();
  auto written = job->recorder.record(Entry{at, wish.id, wish.name, wish.fields});
  if (!written) return failed(written.error());
  if (auto synced = job->recorder.sync(); !synced) return failed(synced.error());
  return recorded_text(wish.id, at);
}

}  // namespace

Recorded record_entry(const std::string& path, const EntryWish& wish) {
  const auto holder = holder_of(path);
  if (!holder) return refused(holder.error());
  if (!*holder) return record_in_file(path, wish);
  return ask(**holder, path, "/api/entries", "application/json",
             JsonLine().text("id", wish.id).text("name", wish.name).raw("fields", wish.fields).take());
}

Recorded record_photo(const std::string& path, const std::string& id, const std::string& bytes,
                      const std::string& of, const std::string& by) {
  const auto holder = holder_of(path);
  if (!holder) return refused(holder.error());
  if (*holder)
    return ask(
        **holder, path,
        "/api/photos?id=" + percent_encoded(id) + "&of=" + percent_encoded(of) + "&by=" + percent_encoded(by),
        "image/jpeg", bytes);  // what it is the server sees by its content
  const auto stored = store_photo(path, bytes);
  if (!stored) return tl::unexpected(Refusal{stored.error(), !stored.error().place.empty()});
  return record_in_file(path, {id, std::string(kPhoto), stored->fields(of, by)});
}

Recorded close_job(const std::string& path, const std::string& sign_over) {
  const auto holder = holder_of(path);
  if (!holder) return refused(holder.error());
  if (*holder) {
    JsonLine body;
    body.text("action", "close");
    if (!sign_over.empty()) body.text("sign_over", sign_over);
    return ask(**holder, path, "/api/jobs", "application/json", body.take());
  }
  auto job = open_job(path);
  if (!job) return refused(job.error());
  const auto look = look_at_job(path);
  if (!look) return refused(look.error());
  const std::vector<OpenItem> open = open_ones(look->record);
  if (!open.empty() && sign_over.empty()) return refused(open_items_fault(open, path));
  for (const Entry& entry : signed_over(open, sign_over, job->time.now()))
    if (auto written = job->recorder.record(entry); !written) return failed(written.error());
  if (auto closed = job->recorder.close(job->time.now()); !closed) return failed(closed.error());
  auto told = closed_text(path);
  if (!told) return failed(told.error());
  return std::move(*told);
}

Recorded scan_served_job(const std::string& path, const std::string& id, const std::string& stage,
                         std::chrono::seconds patience) {
  const auto limit = std::chrono::steady_clock::now() + patience;
  const auto holder = holder_of(path);
  if (!holder) return refused(holder.error());
  if (!*holder) return failed(Fault{"the program that held this job has just ended", path, "scan again"});
  const auto job = job_id_of(path);
  if (!job) return refused(job.error());
  // The journal is followed from before the wish on, so that the end of its scan cannot be missed.
  const auto state = ask_web(**holder, {"GET", "/api/state?job=" + *job, {}, {}}, kAnswerPatience);
  if (!state) return failed(state.error());
  const auto told = nlohmann::json::parse(state->body, nullptr, false);
  const auto line = told.is_object() ? told.find("line") : told.end();
  const std::string after = line != told.end() && line->is_number_unsigned() ? line->dump() : "0";
  auto stream = WebStream::open(**holder, "/api/events?after=" + after + "&job=" + *job, kAnswerPatience);
  if (!stream) return failed(stream.error());
  auto wished = ask(**holder, path, "/api/scan", "application/json",
                    JsonLine().text("id", id).text("scan", stage).take());
  if (!wished) return wished;
  EventLines lines;
  while (std::chrono::steady_clock::now() < limit) {
    const auto came = stream->read(kLookEvery);
    if (!came) return failed(came.error());
    lines.on_bytes(*came);
    while (const auto one = lines.next()) {
      const auto event = event_of(one->data);
      const auto* const scan = event ? std::get_if<ScanEvent>(&*event) : nullptr;
      if (scan != nullptr && scan->scan == stage) return wished;
    }
  }
  return failed(Fault{"the scan did not end within " + std::to_string(patience.count()) + " s", path,
                      "look at the page of the program that holds the job"});
}

}  // namespace sumplog
