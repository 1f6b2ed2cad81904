#include "io/web_stream.h"

#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/beast/core/flat_buffer.hpp>
#include <boost/beast/core/tcp_stream.hpp>
#include <boost/beast/http/empty_body.hpp>
#include <boost/beast/http/parser.hpp>
#include <boost/beast/http/read.hpp>
#include <boost/beast/http/string_body.hpp>
#include <boost/beast/http/write.hpp>
#include <utility>

namespace sumplog {

namespace asio = boost::asio;
namespace beast = boost::beast;
namespace http = boost::beast::http;
using asio::ip::tcp;
using boost::system::error_code;

namespace {

constexpr int kHttp11 = 11;  // as Beast writes the version
constexpr unsigned kOk = 200;

}  // namespace

struct WebStream::Parts {
  std::string name;
  asio::io_context loop{1};
  beast::tcp_stream stream{loop};
  beast::flat_buffer buffer;
  http::response_parser<http::string_body> parser;
  bool reading = false;  ///< a read waits, over several calls
  error_code result;
};

WebStream::WebStream(std::unique_ptr<Parts> parts) : parts_(std::move(parts)) {}
WebStream::WebStream(WebStream&&) noexcept = default;
WebStream& WebStream::operator=(WebStream&&) noexcept = default;

/// What still waits is called off before what it writes into is gone.
WebStream::~WebStream() {
  if (!parts_) return;
  parts_->stream.close();
  parts_->loop.restart();
  parts_->loop.run();
}

Result<WebStream> WebStream::open(const WebPlace& place, const std::string& target,
                                  std::chrono::milliseconds patience) {
  auto parts = std::make_unique<Parts>();
  const bool v6 = place.host.find(':') != std::string::npos;
  parts->name = (v6 ? "[" + place.host + "]" : place.host) + ":" + place.port;
  tcp::resolver resolver(parts->loop);
  error_code failed;
  const auto found = resolver.resolve(place.host, place.port, tcp::resolver::numeric_service, failed);
  if (failed) return fault("no such address: " + failed.message(), parts->name);
  http::request<http::empty_body> request(http::verb::get, target, kHttp11);
  request.set(http::field::host, parts->name);
  if (!place.token.empty()) request.set(http::field::authorization, "Bearer " + place.token);

  parts->parser.body_limit(boost::none);
  Parts& all = *parts;
  all.result = asio::error::timed_out;
  all.stream.expires_after(patience);
  all.stream.async_connect(found, [&](error_code error, const tcp::endpoint&) {
    all.result = error;
    if (error) return;
    http::async_write(all.stream, request, [&](error_code write_error, std::size_t) {
      all.result = write_error;
      if (write_error) return;
      http::async_read_header(all.stream, all.buffer, all.parser,
                              [&](error_code read_error, std::size_t) { all.result = read_error; });
    });
  });
  all.loop.run();
  if (all.result)
    return fault("cannot reach sumplog: " + all.result.message(), all.name, "is it still running?");
  if (all.parser.get().result_int() != kOk)
    return fault("answer " + std::to_string(all.parser.get().result_int()), all.name,
                 "is it this job's program?");
  all.stream.expires_never();
  return WebStream(std::move(parts));
}

Result<std::string> WebStream::read(std::chrono::milliseconds patience) {
  Parts& all = *parts_;
  const auto take = [&] { return std::exchange(all.parser.get().body(), {}); };
  if (std::string early = take(); !early.empty()) return early;  // it came with the head
  if (!all.reading) {
    all.reading = true;
    http::async_read_some(all.stream, all.buffer, all.parser, [&](error_code error, std::size_t) {
      all.reading = false;
      all.result = error;
    });
  }
  all.loop.restart();
  all.loop.run_for(patience);
  if (all.reading) return std::string();
  std::string came = take();
  // A body without a length ends with its connection: to the parser that is no error.
  if (came.empty() && (all.result || all.parser.is_done()))
    return fault("sumplog is gone" + (all.result ? ": " + all.result.message() : std::string()), all.name);
  return came;
}

}  // namespace sumplog
