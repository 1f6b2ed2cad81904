#include "io/web_client.h"

#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/beast/core/flat_buffer.hpp>
#include <boost/beast/core/tcp_stream.hpp>
#include <boost/beast/http/parser.hpp>
#include <boost/beast/http/read.hpp>
#include <boost/beast/http/string_body.hpp>
#include <boost/beast/http/write.hpp>

namespace sumplog {

namespace asio = boost::asio;
namespace beast = boost::beast;
namespace http = boost::beast::http;
using asio::ip::tcp;
using boost::system::error_code;

namespace {

constexpr std::size_t kMostAnswer = 4U << 20;  // bytes
constexpr int kHttp11 = 11;                    // as Beast writes the version
constexpr std::string_view kScheme = "http://";

bool is_v6(const std::string& host) {
  return host.find(':') != std::string::npos;
}

}  // namespace

Result<WebPlace> parse_web_place(std::string_view url) {
  const auto wrong =
      fault("no address of a sumplog page", std::string(url), "for example http://127.0.0.1:8723/");
  if (!url.starts_with(kScheme)) return wrong;
  url.remove_prefix(kScheme.size());
  url = url.substr(0, url.find('/'));
  const std::size_t colon = url.rfind(':');
  if (colon == std::string_view::npos || colon == 0 || colon + 1 == url.size()) return wrong;
  std::string host(url.substr(0, colon));
  if (host.size() > 2 && host.front() == '[' && host.back() == ']') host = host.substr(1, host.size() - 2);
  return WebPlace{std::move(host), std::string(url.substr(colon + 1)), {}};
}

Result<WebAnswer> ask_web(const WebPlace& place, const WebQuestion& question,
                          std::chrono::milliseconds patience) {
  const std::string name = (is_v6(place.host) ? "[" + place.host + "]" : place.host) + ":" + place.port;
  asio::io_context loop{1};
  tcp::resolver resolver(loop);
  error_code failed;
  // A number and a number: nothing is looked up anywhere.
  const auto found = resolver.resolve(place.host, place.port, tcp::resolver::numeric_service, failed);
  if (failed) return fault("no such address: " + failed.message(), name);

  http::request<http::string_body> request(http::string_to_verb(question.method), question.target, kHttp11);
  request.set(http::field::host, name);
  if (!place.token.empty()) request.set(http::field::authorization, "Bearer " + place.token);
  if (!question.type.empty()) request.set(http::field::content_type, question.type);
  request.keep_alive(false);
  request.body() = question.body;
  request.prepare_payload();

  beast::tcp_stream stream(loop);
  beast::flat_buffer buffer;
  http::response_parser<http::string_body> parser;
  parser.body_limit(kMostAnswer);
  std::string step = "cannot reach sumplog";
  error_code result = asio::error::timed_out;
  stream.expires_after(patience);
  stream.async_connect(found, [&](error_code error, const tcp::endpoint&) {
    result = error;
    if (error) return;
    step = "sumplog took no request";
    http::async_write(stream, request, [&](error_code write_error, std::size_t) {
      // A server that refuses early may close before it has read all: its answer is there nevertheless.
      result = write_error;
      step = "sumplog gave no answer";
      http::async_read(stream, buffer, parser,
                       [&](error_code read_error, std::size_t) { result = read_error; });
    });
  });
  loop.run();
  if (result) return fault(step + ": " + result.message(), name, "is it still running?");
  auto& response = parser.get();
  const auto type = response[http::field::content_type];
  return WebAnswer{response.result_int(), {type.data(), type.size()}, std::move(response.body()), {}};
}

}  // namespace sumplog
