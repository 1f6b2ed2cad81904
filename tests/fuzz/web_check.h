#pragma once
#include <nlohmann/json.hpp>
#include <string>

#include "app/web_contract.h"
#include "core/record/entry_table.h"
#include "fuzz/feed.h"
#include "io/web_message.h"

namespace sumplog::fuzz {

/// What may ever reach the job: an entry that passes the table, a photo, the end.
inline WebContract::Job watched_job() {
  constexpr std::size_t kLongestId = 64;  // docs/web.md
  WebContract::Job made;
  made.id = "0011";
  made.state = made.terms = made.entries = [] { return std::string("{}"); };
  made.enter = [](const EntryWish& wish, const WebReply& reply) {
    require(!wish.id.empty() && wish.id.size() <= kLongestId, "an entry without a proper id");
    require(checked_fields(wish.name, wish.fields).has_value(), "an entry that was not checked");
    reply({});
  };
  made.photo = [](const std::string& id, const std::string&, const std::string&, const std::string&,
                  const WebReply& reply) {
    require(!id.empty() && id.find('/') == std::string::npos, "a photo without a proper id");
    reply({});
  };
  made.close = [](const std::string&, const WebReply& reply) { reply({}); };
  made.course = [](const CourseOptions& options, std::optional<Duration>) {
    require(options.width <= CourseOptions::kLargest && options.height <= CourseOptions::kLargest,
            "a picture of any size");
    return std::string("<svg/>");
  };
  return made;
}

/// One request, one answer, of a form that every client can read.
inline void ask(const WebRequest& request) {
  static const WebContract contract{watched_job()};
  int answers = 0;
  contract.on_request(request, [&](const WebAnswer& answer) {
    ++answers;
    require(answer.status >= 200 && answer.status < 600, "no status of HTTP");
    if (answer.type == "application/json" && !answer.body.empty())
      require(nlohmann::json::accept(answer.body), "an answer that is no JSON");
    for (const auto& header : answer.headers)
      require(header.second.find_first_of("\r\n") == std::string::npos, "a header with two lines");
  });
  // The stream of events is the server's own.
  require(answers == 1 || (answers == 0 && request.path == "/api/events"),
          "a request with no answer, or with two");
}

}  // namespace sumplog::fuzz
