#pragma once
#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/beast/core/flat_buffer.hpp>
#include <boost/beast/core/tcp_stream.hpp>
#include <boost/beast/http/empty_body.hpp>
#include <boost/beast/http/error.hpp>
#include <boost/beast/http/message.hpp>
#include <boost/beast/http/parser.hpp>
#include <boost/beast/http/string_body.hpp>
#include <chrono>
#include <list>
#include <memory>
#include <optional>
#include <string>
#include <utility>

#include "io/web_server.h"

// The inside of WebServer: nobody but web_server.cpp and web_session.cpp includes this.

namespace sumplog {

/// What all sessions share; it lives as long as the last of them.
class WebServer::Shared : public std::enable_shared_from_this<WebServer::Shared> {
 public:
  Shared(boost::asio::io_context& on, WebAddress at, WebAccess who, WebLimits what)
      : loop(on), address(std::move(at)), access(std::move(who)), limits(what), acceptor(on), pause(on) {}
  void accept();
  /// Whether one more connection can be had. Somebody who takes all of them and asks for nothing keeps nobody out.
  bool has_room();

  boost::asio::io_context& loop;
  WebAddress address;
  WebAccess access;
  Owner owner;
  WebLimits limits;
  boost::asio::ip::tcp::acceptor acceptor;
  boost::asio::steady_timer pause;
  std::list<Session*> sessions;
  std::size_t streams = 0;
  std::size_t photos = 0;     ///< large bodies that are being read or handled
  std::size_t answering = 0;  ///< requests whose answer was not sent yet
  bool stopped = false;
};

/// One connection: requests one after another, or a stream of events until it ends.
class WebServer::Session : public std::enable_shared_from_this<WebServer::Session> {
 public:
  Session(std::shared_ptr<Shared> shared, boost::asio::ip::tcp::socket socket);
  ~Session();
  Session(const Session&) = delete;
  Session& operator=(const Session&) = delete;

  void read_request(std::chrono::milliseconds patience);

  /// New lines may have come.
  void pump();
  [[nodiscard]] bool streaming() const { return streaming_; }
  [[nodiscard]] bool open() const { return stream_.socket().is_open(); }
  /// Has taken a connection for this long without having asked for anything.
  [[nodiscard]] bool silent_for(std::chrono::milliseconds time) const {
    return !asked_ && std::chrono::steady_clock::now() - begun_ > time;
  }
  /// Between two requests.
  [[nodiscard]] bool idle() const { return !streaming_ && !answering_ && !response_; }
  void close();

 private:
  void on_header(boost::system::error_code error);
  void read_body();
  [[nodiscard]] WebOrigin origin_of(const boost::beast::http::fields& fields) const;
  void on_whole(boost::system::error_code error);
  void on_read_error(boost::system::error_code error);
  static const boost::system::error_category& http_category() {
    return boost::system::error_code(boost::beast::http::error::bad_method).category();
  }
  /// What was not read of the request is not worth reading.
  void refuse(unsigned status, const Fault& fault) { refuse(web_fault(status, fault)); }
  void refuse(WebAnswer answer);
  void send(WebAnswer answer);
  void on_sent(boost::system::error_code error);
  /// Says that nothing more comes, and reads away for a moment what the client still sends: closing at once would reset the
  /// connection, and the answer could be lost on its way.
  void linger();
  void swallow(std::size_t so_far);
  void begin_stream(const WebRequest& request);
  /// A client that goes away is heard only by reading.
  void watch_for_the_end();
  void send_events(std::string bytes);
  void wait_for_events();
  void leave_photo() {
    if (std::exchange(holds_photo_, false)) --shared_->photos;
  }

  static constexpr auto kLinger = std::chrono::seconds(2);
  static constexpr std::size_t kMostSwallowed = 1U << 20;

  std::shared_ptr<Shared> shared_;
  std::list<Session*>::iterator place_;
  boost::beast::tcp_stream stream_;
  boost::asio::steady_timer heartbeat_;
  boost::beast::flat_buffer buffer_{64U << 10};
  std::optional<boost::beast::http::request_parser<boost::beast::http::string_body>> parser_;
  std::optional<boost::beast::http::response<boost::beast::http::string_body>> response_;
  std::optional<boost::beast::http::response<boost::beast::http::empty_body>> continue_;
  std::optional<WebTarget> target_;
  std::string outgoing_;
  char sink_[4096] = {};
  std::uint64_t seen_ = 0;  ///< line of the journal
  std::chrono::steady_clock::time_point begun_ = std::chrono::steady_clock::now();
  bool asked_ = false;  ///< a whole header has come
  bool keep_alive_ = false;
  bool head_ = false;
  bool answering_ = false;
  bool holds_photo_ = false;
  bool streaming_ = false;
  bool sending_ = false;
  bool heartbeat_waits_ = false;
};

}  // namespace sumplog
