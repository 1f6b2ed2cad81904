#include "app/page_routes.h"

#include <string>
#include <string_view>

#include "io/http_status.h"
#include "page/page_files.h"

namespace sumplog {
namespace {

constexpr std::string_view kBelow = "/page/";
constexpr std::string_view kFirst = "index.html";
constexpr std::string_view kNoTokenPage = "no_token.html";

// blob: a photo is shown before it is sent.
constexpr std::string_view kPolicy =
    "default-src 'self'; img-src 'self' blob:; object-src 'none'; base-uri 'none'; form-action 'none'; "
    "frame-ancestors 'none'";

WebAnswer page_of(const PageFile& file, unsigned status) {
  return WebAnswer{status,
                   std::string(file.type),
                   std::string(file.bytes),
                   {{"Content-Security-Policy", std::string(kPolicy)}, {"Referrer-Policy", "no-referrer"}}};
}

}  // namespace

std::optional<WebAnswer> page_answer(const WebRequest& request) {
  const bool below = request.path.starts_with(kBelow);
  if (!below && request.path != "/") return std::nullopt;
  if (request.method != "GET" && request.method != "HEAD") {
    auto answer = web_fault(http_status::kWrongMethod, Fault{"this cannot be done here",
                                                             request.method + " " + request.path, "use GET"});
    answer.headers.emplace_back("Allow", "GET, HEAD");
    return answer;
  }
  const auto file = page_file(below ? std::string_view(request.path).substr(kBelow.size()) : kFirst);
  if (!file)
    return web_fault(http_status::kNotFound,
                     Fault{"this is no file of the page", request.path, "the page is at /"});
  return page_of(*file, http_status::kOk);
}

WebAnswer no_token_page() {
  return page_of(page_file(kNoTokenPage).value_or(PageFile{}), http_status::kUnauthorized);
}

}  // namespace sumplog
