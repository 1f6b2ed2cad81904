#pragma once
#include <functional>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "core/item/result.h"

namespace sumplog {

/// A request that came in whole and may be heard (WebAccess).
struct WebRequest {
  std::string method;                        ///< "GET", "POST", …
  std::string path;                          ///< "/api/state", without the query, percent signs resolved
  std::map<std::string, std::string> query;  ///< of "?a=1&b=2"; the last of a name counts
  std::string content_type;                  ///< without parameters, lower case
  std::string last_event_id;
  std::string body;
};

struct WebAnswer {
  unsigned status = 200;
  std::string type = "application/json";
  std::string body;
  std::vector<std::pair<std::string, std::string>> headers;
};

/// Sends the answer to one request; called once, at once or later, from the thread of the server.
using WebReply = std::function<void(WebAnswer)>;

/// {"error":…,"where":…,"way_out":…}
[[nodiscard]] WebAnswer web_fault(unsigned status, const Fault& fault);

/// Path and query of a request target.
/// err  no path, a percent sign without two hex digits, a control character
struct WebTarget {
  std::string path;
  std::map<std::string, std::string> query;
};
[[nodiscard]] std::optional<WebTarget> parse_target(std::string_view target);
/// Text as it may stand in a query.
[[nodiscard]] std::string percent_encoded(std::string_view text);

}  // namespace sumplog
