#include "io/web_server.h"

#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/write.hpp>
#include <boost/beast/core/flat_buffer.hpp>
#include <boost/beast/core/tcp_stream.hpp>
#include <boost/beast/http/empty_body.hpp>
#include <boost/beast/http/error.hpp>
#include <boost/beast/http/parser.hpp>
#include <boost/beast/http/read.hpp>
#include <boost/beast/http/string_body.hpp>
#include <boost/beast/http/write.hpp>
#include <list>
#include <utility>
#include <vector>

namespace sumplog {

namespace asio = boost::asio;
namespace beast = boost::beast;
namespace http = boost::beast::http;
using asio::ip::tcp;
using boost::system::error_code;

namespace {

constexpr auto kAcceptPause =
    std::chrono::milliseconds(100);  // after a failure, for example no free descriptor
constexpr int kHttp11 = 11;          // as Beast writes the version
constexpr std::string_view kEvents = "/api/events";
constexpr std::string_view kPhotos = "/api/photos";
constexpr std::string_view kStreamHead =
    "HTTP/1.1 200 OK\r\nContent-Type: text/event-stream\r\nCache-Control: no-store\r\nConnection: "
    "close\r\n\r\n"
    "retry: 1000\n\n";

/// For a connection too many, which gets no session.
std::string busy_answer() {
  const WebAnswer answer = web_fault(503, Fault{"too many connections", "", "close other pages"});
  return "HTTP/1.1 503 Service Unavailable\r\nConnection: close\r\nRetry-After: 5\r\nContent-Type: " +
         answer.type + "\r\nContent-Length: " + std::to_string(answer.body.size()) + "\r\n\r\n" + answer.body;
}

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

/// What all sessions share; it lives as long as the last of them.
class WebServer::Shared : public std::enable_shared_from_this<WebServer::Shared> {
 public:
  Shared(asio::io_context& on, WebAddress at, WebAccess who, WebLimits what)
      : loop(on), address(std::move(at)), access(std::move(who)), limits(what), acceptor(on), pause(on) {}
  void accept();

  asio::io_context& loop;
  WebAddress address;
  WebAccess access;
  Owner owner;
  WebLimits limits;
  tcp::acceptor acceptor;
  asio::steady_timer pause;
  std::list<Session*> sessions;
  std::size_t streams = 0;
  std::size_t photos = 0;     ///< large bodies that are being read or handled
  std::size_t answering = 0;  ///< requests whose answer was not sent yet
  bool stopped = false;
};

/// One connection: requests one after another, or a stream of events until it ends.
class WebServer::Session : public std::enable_shared_from_this<WebServer::Session> {
 public:
  Session(std::shared_ptr<Shared> shared, tcp::socket socket)
      : shared_(std::move(shared)), stream_(std::move(socket)), heartbeat_(shared_->loop) {
    place_ = shared_->sessions.insert(shared_->sessions.end(), this);
  }
  ~Session() {
    shared_->sessions.erase(place_);
    if (streaming_) --shared_->streams;
    leave_photo();
    if (answering_) --shared_->answering;
  }
  Session(const Session&) = delete;
  Session& operator=(const Session&) = delete;

  void read_request(std::chrono::milliseconds patience) {
    parser_.emplace();
    parser_->header_limit(static_cast<std::uint32_t>(shared_->limits.header_bytes));
    // A length that is announced is judged with the header, before the path is known: on_header() is stricter.
    parser_->body_limit(shared_->limits.photo_bytes);
    stream_.expires_after(patience);
    http::async_read_header(
        stream_, buffer_, *parser_,
        [self = shared_from_this()](error_code error, std::size_t) { self->on_header(error); });
  }

  /// New lines may have come.
  void pump() {
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
  [[nodiscard]] bool streaming() const { return streaming_; }
  /// Between two requests.
  [[nodiscard]] bool idle() const { return !streaming_ && !answering_ && !response_; }
  void close() {
    heartbeat_.cancel();
    stream_.close();
  }

 private:
  void on_header(error_code error) {
    if (error) {
      on_read_error(error);
      return;
    }
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
      refuse(status, allowed.error());
      return;
    }
    const bool photo = target_->path == kPhotos && request.method() == http::verb::post;
    if (photo) {
      if (shared_->photos >= shared_->limits.photos_at_once) {
        refuse(503,
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

  void read_body() {
    http::async_read(stream_, buffer_, *parser_,
                     [self = shared_from_this()](error_code error, std::size_t) { self->on_whole(error); });
  }

  [[nodiscard]] WebOrigin origin_of(const http::fields& fields) const {
    WebOrigin from;
    from.host = header(fields, http::field::host);
    from.origin = header(fields, http::field::origin);
    // Following a link to the page is no request of the page that holds the link.
    if (!(target_->path == "/" && parser_->get().method() == http::verb::get))
      from.fetch_site = header(fields, "Sec-Fetch-Site");
    from.authorization = header(fields, http::field::authorization);
    from.cookie = header(fields, http::field::cookie);
    if (const auto token = target_->query.find("token");
        token != target_->query.end() && target_->path == "/")
      from.token = token->second;
    return from;
  }

  void on_whole(error_code error) {
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
                                         "; Path=/; HttpOnly; SameSite=Strict"}}});
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

  void on_read_error(error_code error) {
    if (error == http::error::header_limit) {
      refuse(431, Fault{"the header of the request is too long", "", ""});
    } else if (error == http::error::body_limit) {
      refuse(413, Fault{"the body of the request is too long", target_ ? target_->path : "",
                        "at most " +
                            std::to_string(holds_photo_ ? shared_->limits.photo_bytes
                                                        : shared_->limits.body_bytes) +
                            " bytes"});
    } else if (error == beast::error::timeout || error == http::error::end_of_stream ||
               error == http::error::partial_message || error.category() != http_category()) {
      close();  // nobody is there to read an answer
    } else {
      refuse(400, Fault{"this is not HTTP: " + error.message(), "", ""});
    }
  }
  static const boost::system::error_category& http_category() {
    return error_code(http::error::bad_method).category();
  }

  /// What was not read of the request is not worth reading.
  void refuse(unsigned status, const Fault& fault) {
    keep_alive_ = false;
    leave_photo();
    send(web_fault(status, fault));
  }

  void send(WebAnswer answer) {
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

  void on_sent(error_code error) {
    if (std::exchange(answering_, false)) --shared_->answering;
    const bool goes_on = !error && response_->keep_alive() && !shared_->stopped;
    response_.reset();
    if (goes_on) {
      read_request(shared_->limits.idle_time);
      return;
    }
    linger();
  }

  /// Says that nothing more comes, and reads away for a moment what the client still sends: closing at once would reset the
  /// connection, and the answer could be lost on its way.
  void linger() {
    error_code ignored;
    stream_.socket().shutdown(tcp::socket::shutdown_send, ignored);
    stream_.expires_after(kLinger);
    swallow(0);
  }
  void swallow(std::size_t so_far) {
    stream_.async_read_some(asio::buffer(sink_),
                            [self = shared_from_this(), so_far](error_code error, std::size_t n) {
                              if (error || so_far + n > kMostSwallowed) {
                                self->close();
                                return;
                              }
                              self->swallow(so_far + n);
                            });
  }

  void begin_stream(const WebRequest& request) {
    if (shared_->streams >= shared_->limits.event_streams || shared_->stopped) {
      keep_alive_ = false;
      send(web_fault(503,
                     Fault{"too many pages follow this job", std::string(kEvents), "close some of them"}));
      return;
    }
    ++shared_->streams;
    streaming_ = true;
    seen_ = shared_->owner.first_event(request);
    watch_for_the_end();
    send_events(std::string(kStreamHead));
  }

  /// A client that goes away is heard only by reading.
  void watch_for_the_end() {
    stream_.async_read_some(asio::buffer(sink_), [self = shared_from_this()](error_code error, std::size_t) {
      if (error) {
        self->close();
        return;
      }
      self->watch_for_the_end();
    });
  }

  void send_events(std::string bytes) {
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

  void wait_for_events() {
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

  void leave_photo() {
    if (std::exchange(holds_photo_, false)) --shared_->photos;
  }

  static constexpr auto kLinger = std::chrono::seconds(2);
  static constexpr std::size_t kMostSwallowed = 1U << 20;

  std::shared_ptr<Shared> shared_;
  std::list<Session*>::iterator place_;
  beast::tcp_stream stream_;
  asio::steady_timer heartbeat_;
  beast::flat_buffer buffer_{64U << 10};
  std::optional<http::request_parser<http::string_body>> parser_;
  std::optional<http::response<http::string_body>> response_;
  std::optional<http::response<http::empty_body>> continue_;
  std::optional<WebTarget> target_;
  std::string outgoing_;
  char sink_[4096] = {};
  std::uint64_t seen_ = 0;  ///< line of the journal
  bool keep_alive_ = false;
  bool head_ = false;
  bool answering_ = false;
  bool holds_photo_ = false;
  bool streaming_ = false;
  bool sending_ = false;
  bool heartbeat_waits_ = false;
};

void WebServer::Shared::accept() {
  acceptor.async_accept([self = shared_from_this()](error_code error, tcp::socket socket) {
    if (self->stopped) return;
    if (error) {
      self->pause.expires_after(kAcceptPause);
      self->pause.async_wait([self](error_code cancelled) {
        if (!cancelled) self->accept();
      });
      return;
    }
    if (self->sessions.size() >= self->limits.connections) {
      error_code ignored;
      socket.non_blocking(true, ignored);
      socket.write_some(asio::buffer(busy_answer()), ignored);
    } else {
      std::make_shared<Session>(self, std::move(socket))->read_request(self->limits.header_time);
    }
    self->accept();
  });
}

WebServer::WebServer(std::shared_ptr<Shared> shared) : shared_(std::move(shared)) {}

WebServer::~WebServer() {
  stop();
  // Sessions that wait for an answer live on in the loop's handlers; the owner is not called any more.
  const auto sessions = shared_->sessions;
  for (Session* const one : sessions) one->close();
}

Result<std::unique_ptr<WebServer>> WebServer::open(asio::io_context& loop, WebAddress address,
                                                   std::string token, WebLimits limits) {
  error_code error;
  const auto number = asio::ip::make_address(address.address, error);
  if (error) return fault("no such address", address.text(), "name an address of this computer");
  const tcp::endpoint endpoint(number, address.port);
  tcp::acceptor acceptor(loop);
  const auto failed = [&](const error_code& why) {
    return fault("cannot listen: " + why.message(), address.text(),
                 why == asio::error::address_in_use
                     ? "stop the other program that listens there, or name another port with --listen"
                     : "name an address of this computer with --listen");
  };
  acceptor.open(endpoint.protocol(), error);
  if (error) return failed(error);
  acceptor.set_option(tcp::acceptor::reuse_address(true), error);
  acceptor.bind(endpoint, error);
  if (error) return failed(error);
  acceptor.listen(tcp::acceptor::max_listen_connections, error);
  if (error) return failed(error);
  address.port = acceptor.local_endpoint(error).port();
  if (error) return failed(error);
  auto shared = std::make_shared<Shared>(loop, address, WebAccess(address, std::move(token)), limits);
  shared->acceptor = std::move(acceptor);
  return std::unique_ptr<WebServer>(new WebServer(std::move(shared)));
}

void WebServer::begin(Owner owner) {
  shared_->owner = std::move(owner);
  shared_->accept();
}

const WebAddress& WebServer::address() const {
  return shared_->address;
}
const std::string& WebServer::token() const {
  return shared_->access.token();
}

std::string WebServer::url() const {
  const std::string base = "http://" + shared_->address.text() + "/";
  return token().empty() ? base : base + "?token=" + token();
}

void WebServer::wake_streams() {
  if (shared_->streams == 0) return;
  const auto sessions = shared_->sessions;  // a session that is cut off leaves the list
  for (Session* const one : sessions)
    if (one->streaming()) one->pump();
}

std::size_t WebServer::answers_under_way() const {
  return shared_->answering;
}
std::size_t WebServer::connections() const {
  return shared_->sessions.size();
}

void WebServer::stop() {
  if (std::exchange(shared_->stopped, true)) return;
  error_code ignored;
  shared_->acceptor.close(ignored);
  shared_->pause.cancel();
  wake_streams();
  const auto sessions = shared_->sessions;
  for (Session* const one : sessions)
    if (one->idle()) one->close();
}

}  // namespace sumplog
