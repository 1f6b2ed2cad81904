#pragma once
#include <functional>
#include <optional>
#include <string>

#include "app/entry_desk.h"
#include "core/drawing/course_chart.h"
#include "io/web_message.h"

namespace sumplog {

/// The routes of docs/web.md. What a client can bring about is what `Job` has, and no more: an entry, a photo, the end of the
/// job. No request of a client's own making reaches the asker.
class WebContract {
 public:
  struct Job {
    std::string id;
    std::function<std::string()> state;    ///< one JSON object
    std::function<std::string()> terms;    ///< what the job goes by: one JSON object
    std::function<std::string()> entries;  ///< all that were made: one JSON object
    std::function<void(const EntryWish&, WebReply)> enter;
    /// in   of, by  what it shows, and who took it; empty: not said
    std::function<void(std::string id, std::string bytes, std::string of, std::string by, WebReply)> photo;
    /// in   sign_over  who takes the open items over; empty: nobody
    std::function<void(std::string sign_over, WebReply)> close;
    /// The course of the fluid temperature as SVG.
    /// in   options  size and unit, as the client asks; newest  only so much of it; nothing: all
    std::function<std::string(CourseOptions, std::optional<Duration> newest)> course = {};
    /// /api/setup; empty: everything is settled
    using Setup = std::function<void(const WebRequest&, const WebReply&)>;
    Setup setup = {};
  };
  explicit WebContract(Job job) : job_(std::move(job)) {}

  /// Answers, at once or later.
  void on_request(WebRequest request, WebReply reply) const;

 private:
  void on_entry(const WebRequest& request, const WebReply& reply) const;
  void on_photo(WebRequest& request, const WebReply& reply) const;
  void on_jobs(const WebRequest& request, const WebReply& reply) const;
  void on_scan(const WebRequest& request, const WebReply& reply) const;
  void on_course(WebRequest& request, const WebReply& reply) const;

  Job job_;
};

}  // namespace sumplog
