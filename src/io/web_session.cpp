#include "io/web_session.h"

#include <boost/asio/write.hpp>
#include <boost/beast/http/error.hpp>
#include <boost/beast/http/read.hpp>
#include <boost/beast/http/write.hpp>

#include "io/http_status.h"

namespace sumplog {

namespace asio = boost::asio;
namespace beast = boost::beast;
namespace http = boost::beast::http;
using asio::ip::tcp;
using boost::system::error_code;

namespace {

constexpr int kHttp11 = 11;  // as Beast writes the version
constexpr std::string_view kEvents = "/api/events";
constexpr std::string_view kPhotos = "/api/photos";
constexpr std::string_view kStreamHead =
    "HTTP/1.1 200 OK\r\nContent-Type: text/event-stream\r\nCache-Control: no-store\r\nConnection: "
    "close\r\n\r\n"
    "retry: 1000\n\n";

std::string text(beast::string_view view) {
  return {view.data(), view.size()};
}

template <class Name>
std::optional<std::string> header(const http::fields& fields, Name name) {
  const auto found = fields.find(name);
  if (found == fields.end()) return std::nullopt;
  return text(found->value());
}

std::string media_type(std::string value) {
  value = value.substr(0, value.find(';'));
  while (!value.empty() && value.back() == ' ') value.pop_back();
  for (char& c : value)
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
  return value;
}

}  // namespace

WebServer::Session::Session(std::shared_ptr<Shared> shared, tcp::socket socket)
    : shared_(std::move(shared)), stream_(std::move(socket)), heartbeat_(shared_->loop) {
  place_ = shared_->sessions.insert(shared_->sessions.end(), this);
}

WebServer::Session::~Session() {
  shared_->sessions.erase(place_);
  if (streaming_) --shared_->streams;
  leave_photo();
  if (answering_) --shared_->answering;
}

void WebServer::Session::read_request(std::chrono::milliseconds patience) {
  parser_.emplace();
  parser_->header_limit(static_cast<std::uint32_t>(shared_->limits.header_bytes));
  // A length that is announced is judged with the header, before the path is known: on_header() is stricter.
  parser_->body_limit(shared_->limits.photo_bytes);
  stream_.expires_after(patience);
  http::async_read_header(
      stream_, buffer_, *parser_,
      [self = shared_from_this()](error_code error, std::size_t) { self->on_header(error); });
}

void WebServer::Session::pump() {
  if (!streaming_ || sending_) return;
  auto block = shared_->owner.events_after(seen_, shared_->limits.event_block);
  if (!block) {  // it cannot follow: cut off, never memory growth
    close();
    return;
  }
  if (block->bytes.empty()) {
    wait_for_events();
    return;
  }
  seen_ = block->last;
  send_events(std::move(block->bytes));
}

void WebServer::Session::close() {
  heartbeat_.cancel();
  stream_.close();
}

void WebServer::Session::on_header(error_code error) {
  if (error) {
    on_read_error(error);
    return;
  }
  asked_ = true;
  const auto& request = parser_->get();
  target_ = parse_target(text(request.target()));
  keep_alive_ = request.keep_alive();
  head_ = request.method() == http::verb::head;
  if (!target_) {
    refuse(400,
           Fault{"the address of the request cannot be read", text(request.target()).substr(0, 100), ""});
    return;
  }
  unsigned status = 0;
  if (auto allowed = shared_->access.check(origin_of(request), status); !allowed) {
    const bool opens = target_->path == "/" && request.method() == http::verb::get;
    if (status == http_status::kUnauthorized && opens && shared_->owner.no_token_page)
      refuse(shared_->owner.no_token_page());
    else
      refuse(status, allowed.error());
    return;
  }
  if (parser_->chunked()) {
    // Beast 1.81 asserts on a last chunk that comes in small pieces: a client could end a checked build.
    refuse(http_status::kLengthRequired,
           Fault{"a body in chunks is not taken", text(request.target()), "send it with its Content-Length"});
    return;
  }
  const bool photo = target_->path == kPhotos && request.method() == http::verb::post;
  if (photo) {
    if (shared_->photos >= shared_->limits.photos_at_once) {
      refuse(http_status::kUnavailable,
             Fault{"other photos are being stored", text(request.target()), "send it again in a moment"});
      return;
    }
    ++shared_->photos;
    holds_photo_ = true;
  } else {
    parser_->body_limit(shared_->limits.body_bytes);
    if (const auto length = parser_->content_length(); length && *length > shared_->limits.body_bytes) {
      on_read_error(http::error::body_limit);
      return;
    }
  }
  stream_.expires_after(shared_->limits.body_time);
  if (media_type(text(request[http::field::expect])) == "100-continue") {
    continue_.emplace(http::status::continue_, kHttp11);
    http::async_write(stream_, *continue_, [self = shared_from_this()](error_code failed, std::size_t) {
      if (!failed) self->read_body();
    });
    return;
  }
  read_body();
}

void WebServer::Session::read_body() {
  http::async_read(stream_, buffer_, *parser_,
                   [self = shared_from_this()](error_code error, std::size_t) { self->on_whole(error); });
}

WebOrigin WebServer::Session::origin_of(const http::fields& fields) const {
  WebOrigin from;
  from.host = header(fields, http::field::host);
  from.origin = header(fields, http::field::origin);
  // Following a link to the page is no request of the page that holds the link.
  if (!(target_->path == "/" && parser_->get().method() == http::verb::get))
    from.fetch_site = header(fields, "Sec-Fetch-Site");
  from.authorization = header(fields, http::field::authorization);
  from.cookie = header(fields, http::field::cookie);
  if (const auto token = target_->query.find("token"); token != target_->query.end() && target_->path == "/")
    from.token = token->second;
  return from;
}

void WebServer::Session::on_whole(error_code error) {
  if (error) {
    on_read_error(error);
    return;
  }
  auto message = parser_->release();
  parser_.reset();
  WebRequest request{text(message.method_string()),  std::move(target_->path),
                     std::move(target_->query),      media_type(text(message[http::field::content_type])),
                     text(message["Last-Event-ID"]), std::move(message.body())};
  stream_.expires_never();
  if (request.path == kEvents && request.method == "GET") {
    begin_stream(request);
    return;
  }
  if (request.path == "/" && request.query.contains("token") && !shared_->access.token().empty()) {
    send(WebAnswer{303,
                   "text/plain",
                   "",
                   {{"Location", "/"},
                    {"Set-Cookie", shared_->access.cookie_name() + "=" + shared_->access.token() +
                                       "; Path=/; HttpOnly; SameSite=Lax"}}});
    return;
  }
  answering_ = true;
  ++shared_->answering;
  auto reply = [self = shared_from_this(), given = false](WebAnswer answer) mutable {
    if (std::exchange(given, true)) return;
    self->leave_photo();
    self->send(std::move(answer));
  };
  shared_->owner.on_request(std::move(request), std::move(reply));
}

void WebServer::Session::on_read_error(error_code error) {
  if (error == http::error::header_limit) {
    refuse(http_status::kHeaderTooLarge, Fault{"the header of the request is too long", "", ""});
  } else if (error == http::error::body_limit) {
    refuse(http_status::kTooLarge,
           Fault{"the body of the request is too long", target_ ? target_->path : "",
                 "at most " +
                     std::to_string(holds_photo_ ? shared_->limits.photo_bytes : shared_->limits.body_bytes) +
                     " bytes"});
  } else if (error == beast::error::timeout || error == http::error::end_of_stream ||
             error == http::error::partial_message || error.category() != http_category()) {
    close();  // nobody is there to read an answer
  } else {
    refuse(400, Fault{"this is not HTTP: " + error.message(), "", ""});
  }
}

void WebServer::Session::refuse(WebAnswer answer) {
  // RFC 9110 15.5.2; no browser asks a person for a name because of this scheme (RFC 6750).
  if (answer.status == http_status::kUnauthorized) answer.headers.emplace_back("WWW-Authenticate", "Bearer");
  keep_alive_ = false;
  leave_photo();
  send(std::move(answer));
}

void WebServer::Session::send(WebAnswer answer) {
  response_.emplace(static_cast<http::status>(answer.status), kHttp11);
  response_->set(http::field::content_type, answer.type);
  response_->set(http::field::cache_control, "no-store");
  response_->set("X-Content-Type-Options", "nosniff");
  for (const auto& [name, value] : answer.headers) response_->set(name, value);
  response_->keep_alive(keep_alive_ && !shared_->stopped);
  response_->body() = std::move(answer.body);
  response_->prepare_payload();
  if (head_) response_->body().clear();  // RFC 9110 9.3.2: its length is told, and nothing follows
  stream_.expires_after(shared_->limits.send_time);
  http::async_write(stream_, *response_,
                    [self = shared_from_this()](error_code error, std::size_t) { self->on_sent(error); });
}

void WebServer::Session::on_sent(error_code error) {
  if (std::exchange(answering_, false)) --shared_->answering;
  const bool goes_on = !error && response_->keep_alive() && !shared_->stopped;
  response_.reset();
  if (goes_on) {
    read_request(shared_->limits.idle_time);
    return;
  }
  linger();
}

void WebServer::Session::linger() {
  error_code ignored;
  stream_.socket().shutdown(tcp::socket::shutdown_send, ignored);
  stream_.expires_after(kLinger);
  swallow(0);
}

void WebServer::Session::swallow(std::size_t so_far) {
  stream_.async_read_some(asio::buffer(sink_),
                          [self = shared_from_this(), so_far](error_code error, std::size_t n) {
                            if (error || so_far + n > kMostSwallowed) {
                              self->close();
                              return;
                            }
                            self->swallow(so_far + n);
                          });
}

void WebServer::Session::begin_stream(const WebRequest& request) {
  if (shared_->streams >= shared_->limits.event_streams || shared_->stopped) {
    keep_alive_ = false;
    send(web_fault(http_status::kUnavailable,
                   Fault{"too many pages follow this job", std::string(kEvents), "close some of them"}));
    return;
  }
  ++shared_->streams;
  streaming_ = true;
  seen_ = shared_->owner.first_event(request);
  watch_for_the_end();
  send_events(std::string(kStreamHead));
}

void WebServer::Session::watch_for_the_end() {
  stream_.async_read_some(asio::buffer(sink_), [self = shared_from_this()](error_code error, std::size_t) {
    if (error) {
      self->close();
      return;
    }
    self->watch_for_the_end();
  });
}

void WebServer::Session::send_events(std::string bytes) {
  sending_ = true;
  outgoing_ = std::move(bytes);
  heartbeat_.cancel();
  stream_.expires_after(shared_->limits.send_time);
  asio::async_write(stream_, asio::buffer(outgoing_),
                    [self = shared_from_this()](error_code error, std::size_t) {
                      self->sending_ = false;
                      if (error) {
                        self->close();
                        return;
                      }
                      self->stream_.expires_never();
                      self->pump();
                    });
}

void WebServer::Session::wait_for_events() {
  if (shared_->stopped) {
    close();
    return;
  }
  if (heartbeat_waits_) return;
  heartbeat_waits_ = true;
  heartbeat_.expires_after(shared_->limits.heartbeat_time);
  heartbeat_.async_wait([self = shared_from_this()](error_code cancelled) {
    self->heartbeat_waits_ = false;
    if (self->sending_ || !self->stream_.socket().is_open()) return;
    if (cancelled)
      self->wait_for_events();  // events came in between
    else
      self->send_events(": alive\n\n");
  });
}

}  // namespace sumplog
