#pragma once
#include <chrono>
#include <string>
#include <utility>
#include <vector>

#include "core/item/result.h"
#include "io/web_message.h"

namespace sumplog {

/// Where a `serve` listens that holds a job.
struct WebPlace {
  std::string host;  ///< "127.0.0.1"
  std::string port;
  std::string token;  ///< empty: none is asked for
};

/// out  host and port of "http://127.0.0.1:8723/"
/// err  no such address
[[nodiscard]] Result<WebPlace> parse_web_place(std::string_view url);

struct WebQuestion {
  std::string method = "GET";
  std::string target;  ///< "/api/state"
  std::string type;    ///< of the body
  std::string body;
};

/// One request and its answer, blocking; an answer is at most 4 MiB.
/// err  nobody listens · no answer within `patience` · the answer is not HTTP
[[nodiscard]] Result<WebAnswer> ask_web(const WebPlace& place, const WebQuestion& question,
                                        std::chrono::milliseconds patience = std::chrono::seconds(30));

}  // namespace sumplog
