#include "app/web_contract.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <nlohmann/json.hpp>
#include <string_view>

#include "app/page_routes.h"
#include "core/item/entry_names.h"
#include "core/record/entry_table.h"
#include "io/http_status.h"

namespace sumplog {
namespace {

using Json = nlohmann::ordered_json;

constexpr std::size_t kLongestId = 64;
constexpr std::size_t kLongestCaption = 200;  // bytes, of a photo's `of` and `by`
constexpr std::size_t kDeepest = 8;           // brackets within brackets; an entry has three

constexpr std::string_view kSetup = "/api/setup";

struct Route {
  std::string_view path;
  std::string_view method;
};
constexpr std::array<Route, 9> kRoutes{{{"/api/state", "GET"},
                                        {"/api/terms", "GET"},
                                        {"/api/entries", "GET"},
                                        {"/api/events", "GET"},
                                        {"/api/course.svg", "GET"},
                                        {"/api/entries", "POST"},
                                        {"/api/photos", "POST"},
                                        {"/api/jobs", "POST"},
                                        {"/api/scan", "POST"}}};

std::string known_paths() {
  std::string all = "/";
  for (const Route& route : kRoutes)
    if (all.find(route.path) == std::string::npos) all += ", " + std::string(route.path);
  return all;
}

/// The methods of a path, "GET, POST"; empty: there is no such path.
std::string methods_of(std::string_view path) {
  std::string all;
  for (const Route& route : kRoutes)
    if (route.path == path) all += (all.empty() ? "" : ", ") + std::string(route.method);
  return all;
}

bool is_id(std::string_view id) {
  const auto fits = [](char c) {
    return (c >= '0' && c <= '9') || (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || c == '-' ||
           c == '_' || c == '.';
  };
  return !id.empty() && id.size() <= kLongestId && std::all_of(id.begin(), id.end(), fits);
}

Fault bad_id() {
  return Fault{"this is no id", "id",
               "1 to 64 letters, digits, '-', '_', '.', of the client's own choice, new for each entry"};
}

/// Brackets within brackets, those in texts not counted. Nobody means more than a few, and the library's writer calls itself
/// for each of them.
bool nests_deeper_than(std::size_t most, std::string_view json) {
  std::size_t depth = 0;
  bool in_text = false;
  for (std::size_t i = 0; i < json.size(); ++i) {
    const char c = json[i];
    if (in_text && c == '\\') ++i;
    if (c == '"') in_text = !in_text;
    if (in_text) continue;
    if (c == '{' || c == '[') ++depth;
    if ((c == '}' || c == ']') && depth > 0) --depth;
    if (depth > most) return true;
  }
  return false;
}

/// The body of a request as a JSON object with these keys and no other.
/// err  not JSON · another key; `status` is then 400, 415 or 422
Result<Json> object_of(const WebRequest& request, std::initializer_list<std::string_view> keys,
                       unsigned& status) {
  if (request.content_type != "application/json") {
    status = http_status::kWrongType;
    return fault("the body is not announced as JSON", "Content-Type", "send Content-Type: application/json");
  }
  Json parsed;
  if (!nests_deeper_than(kDeepest, request.body)) parsed = Json::parse(request.body, nullptr, false);
  if (!parsed.is_object()) {
    status = http_status::kBadRequest;
    return fault("the body is not a JSON object", request.path, "see docs/web.md");
  }
  status = http_status::kNotAccepted;
  for (const auto& [key, value] : parsed.items()) {
    if (std::find(keys.begin(), keys.end(), key) != keys.end()) continue;
    std::string known;
    for (const std::string_view one : keys) known += (known.empty() ? "" : ", ") + std::string(one);
    return fault("unknown key '" + key + "'", request.path, "the keys are: " + known);
  }
  return parsed;
}

std::string text_of(const Json& object, const char* key) {
  const auto found = object.find(key);
  return found != object.end() && found->is_string() ? found->get<std::string>() : std::string();
}

}  // namespace

void WebContract::on_request(WebRequest request, WebReply reply) const {
  if (request.path == kSetup && job_.setup) {
    job_.setup(request, reply);
    return;
  }
  if (auto page = page_answer(request)) {
    reply(std::move(*page));
    return;
  }
  const std::string allowed = methods_of(request.path);
  if (allowed.empty()) {
    reply(web_fault(http_status::kNotFound,
                    Fault{"there is nothing here", request.path, "there is: " + known_paths()}));
    return;
  }
  const bool known = std::any_of(kRoutes.begin(), kRoutes.end(), [&](const Route& one) {
    return one.path == request.path && one.method == request.method;
  });
  if (!known) {
    auto answer =
        web_fault(http_status::kWrongMethod,
                  Fault{"this cannot be done here", request.method + " " + request.path, "use " + allowed});
    answer.headers.emplace_back("Allow", allowed);
    reply(std::move(answer));
    return;
  }
  // A look at the car is kept by nobody: what is entered there would be acknowledged and thrown away.
  if (job_.setup && request.method == "POST") {
    reply(web_fault(http_status::kConflict,
                    Fault{"there is no job yet", request.path, "choose the car on the page first"}));
    return;
  }
  // Who found this address beside a job file makes sure that it is still the one of that job.
  if (const auto job = request.query.find("job"); job != request.query.end() && job->second != job_.id) {
    reply(web_fault(http_status::kConflict,
                    Fault{"another job is held here", "job " + job_.id, "look where yours is held"}));
    return;
  }
  if (request.path == "/api/state") reply(WebAnswer{200, "application/json", job_.state() + "\n", {}});
  if (request.path == "/api/terms") reply(WebAnswer{200, "application/json", job_.terms() + "\n", {}});
  if (request.path == "/api/entries" && request.method == "GET")
    reply(WebAnswer{200, "application/json", job_.entries() + "\n", {}});
  if (request.path == "/api/entries" && request.method == "POST") on_entry(request, reply);
  if (request.path == "/api/photos") on_photo(request, reply);
  if (request.path == "/api/jobs") on_jobs(request, reply);
  if (request.path == "/api/scan") on_scan(request, reply);
  if (request.path == "/api/course.svg") on_course(request, reply);
}

void WebContract::on_entry(const WebRequest& request, const WebReply& reply) const {
  unsigned status = 0;
  const auto body = object_of(request, {"id", "name", "fields"}, status);
  if (!body) {
    reply(web_fault(status, body.error()));
    return;
  }
  EntryWish wish{text_of(*body, "id"), text_of(*body, "name"), {}};
  if (!is_id(wish.id)) {
    reply(web_fault(http_status::kNotAccepted, bad_id()));
    return;
  }
  if (wish.name == kPhoto) {
    reply(web_fault(http_status::kNotAccepted,
                    Fault{"a photo comes with its bytes", "entry photo", "POST /api/photos"}));
    return;
  }
  auto fields = checked_fields(wish.name, body->contains("fields") ? (*body)["fields"].dump() : "{}");
  if (!fields) {
    reply(web_fault(http_status::kNotAccepted, fields.error()));
    return;
  }
  wish.fields = std::move(*fields);
  job_.enter(wish, reply);
}

void WebContract::on_photo(WebRequest& request, const WebReply& reply) const {
  // Only types that no foreign page can send without being asked whether it may (Fetch, CORS-safelisted types).
  if (!request.content_type.starts_with("image/")) {
    reply(web_fault(http_status::kWrongType, Fault{"the body is not announced as a photo", "Content-Type",
                                                   "send image/jpeg, image/png or image/webp"}));
    return;
  }
  const std::string id = request.query["id"];
  if (!is_id(id)) {
    reply(web_fault(http_status::kNotAccepted, bad_id()));
    return;
  }
  std::string of = request.query["of"];
  std::string by = request.query["by"];
  if (of.size() > kLongestCaption || by.size() > kLongestCaption) {
    reply(web_fault(http_status::kNotAccepted, Fault{"this is too long", "of, by", "200 bytes at most"}));
    return;
  }
  job_.photo(id, std::move(request.body), std::move(of), std::move(by), reply);
}

void WebContract::on_jobs(const WebRequest& request, const WebReply& reply) const {
  unsigned status = 0;
  const auto body = object_of(request, {"action", "sign_over"}, status);
  if (!body) {
    reply(web_fault(status, body.error()));
    return;
  }
  if (text_of(*body, "action") != "close") {
    reply(web_fault(http_status::kNotAccepted,
                    Fault{"this cannot be done with the job that is held here", "action",
                          "close is the only action; a new job begins when serve is started again"}));
    return;
  }
  job_.close(text_of(*body, "sign_over"), reply);
}

void WebContract::on_scan(const WebRequest& request, const WebReply& reply) const {
  unsigned status = 0;
  const auto body = object_of(request, {"id", "scan"}, status);
  if (!body) {
    reply(web_fault(status, body.error()));
    return;
  }
  EntryWish wish{text_of(*body, "id"), std::string(kScanEntry), {}};
  if (!is_id(wish.id)) {
    reply(web_fault(http_status::kNotAccepted, bad_id()));
    return;
  }
  Json fields = Json::object();
  if (body->contains("scan")) fields["scan"] = (*body)["scan"];
  auto checked = checked_fields(wish.name, fields.dump());
  if (!checked) {
    reply(web_fault(http_status::kNotAccepted, checked.error()));
    return;
  }
  wish.fields = std::move(*checked);
  job_.enter(wish, reply);
}

void WebContract::on_course(WebRequest& request, const WebReply& reply) const {
  constexpr int kLongest_min = 24 * 60;
  CourseOptions options;
  std::optional<Duration> newest;
  for (const auto& parameter : request.query) {
    const std::string& key = parameter.first;
    const std::string& value = parameter.second;
    const auto whole = [&](int low, int high) -> std::optional<int> {
      int number = 0;
      const auto [end, error] = std::from_chars(value.data(), value.data() + value.size(), number);
      if (error != std::errc{} || end != value.data() + value.size() || number < low || number > high)
        return std::nullopt;
      return number;
    };
    const auto refuse = [&](const std::string& way_out) {
      reply(web_fault(http_status::kNotAccepted,
                      Fault{"this value does not fit", "course.svg, " + key, way_out}));
    };
    if (key == "unit") {
      if (value != "C" && value != "F") return refuse("C or F");
      options.fahrenheit = value == "F";
    } else if (key == "width" || key == "height") {
      const bool width = key == "width";
      const int least = width ? CourseOptions::kSmallestWidth : CourseOptions::kSmallestHeight;
      const auto px = whole(least, CourseOptions::kLargest);
      if (!px)
        return refuse("pixels, " + std::to_string(least) + " to " + std::to_string(CourseOptions::kLargest));
      (width ? options.width : options.height) = *px;
    } else if (key == "minutes") {
      const auto minutes = whole(1, kLongest_min);
      if (!minutes) return refuse("the newest minutes, 1 to " + std::to_string(kLongest_min));
      newest = std::chrono::minutes(*minutes);
    }
  }
  reply(WebAnswer{200, "image/svg+xml", job_.course(options, newest), {}});
}

}  // namespace sumplog
