#include <boost/asio/buffer.hpp>
#include <boost/beast/http/parser.hpp>
#include <boost/beast/http/string_body.hpp>
#include <optional>

#include "fuzz/web_check.h"
#include "io/web_access.h"
#include "io/web_server.h"

namespace sumplog::fuzz {
namespace {

namespace http = boost::beast::http;
using Parser = http::request_parser<http::string_body>;

std::optional<std::string> header(const Parser& parser, http::field field) {
  const auto found = parser.get().find(field);
  if (found == parser.get().end()) return std::nullopt;
  return std::string(found->value());
}

/// Whoever asks: on loopback, and from the network without the token.
void judge(const Parser& parser) {
  for (const bool loopback : {true, false}) {
    const WebAccess access(loopback ? WebAddress{"127.0.0.1", 8723} : WebAddress{"192.0.2.7", 8723},
                           loopback ? "" : "a token that nobody finds");
    const WebOrigin from{
        header(parser, http::field::host),          header(parser, http::field::origin), std::nullopt,
        header(parser, http::field::authorization), header(parser, http::field::cookie), std::nullopt};
    unsigned status = 0;
    const auto allowed = access.check(from, status);
    require(allowed || (status >= 400 && status < 500), "refused without a status");
    require(loopback || !allowed, "let in without the token");
  }
}

// Byte 0: length of the pieces. Then the bytes of a connection, through the parser and limits of a session.
void take(Bytes bytes) {
  Feed feed(bytes);
  const std::size_t piece = feed.byte() + 1U;
  const Bytes rest = feed.rest();
  Parser parser;
  const WebLimits limits;
  parser.header_limit(static_cast<std::uint32_t>(limits.header_bytes));
  parser.body_limit(limits.body_bytes);
  std::string held;
  for (std::size_t at = 0; at < rest.size() && !parser.is_done(); at += piece) {
    held += text_of(rest.subspan(at, std::min(piece, rest.size() - at)));
    boost::system::error_code error;
    const std::size_t used = parser.put(boost::asio::buffer(held), error);
    held.erase(0, used);
    if (error && error != http::error::need_more) return;
    require(parser.get().body().size() <= limits.body_bytes, "a body beyond its limit");
    if (!parser.is_header_done()) continue;
    if (parser.chunked()) return;  // a session refuses it
    parser.eager(true);
  }
  if (!parser.is_done()) return;
  judge(parser);
  const auto target = parse_target(std::string(parser.get().target()));
  if (!target) return;
  ask({std::string(parser.get().method_string()), target->path, target->query,
       header(parser, http::field::content_type).value_or(""), "", parser.get().body()});
}
const Registered kTarget("http", take);

}  // namespace
}  // namespace sumplog::fuzz
