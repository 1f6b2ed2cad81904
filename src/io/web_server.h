#pragma once
#include <chrono>
#include <cstddef>
#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>

#include "core/item/result.h"
#include "io/web_access.h"
#include "io/web_message.h"

namespace boost::asio {
class io_context;
}

namespace sumplog {

/// Own choices: what a page in a bay needs, and what keeps memory and descriptors bounded whoever connects.
struct WebLimits {
  std::size_t header_bytes = 8U << 10;
  std::size_t body_bytes = 64U << 10;
  std::size_t photo_bytes = 16U << 20;  ///< body of POST /api/photos
  std::size_t photos_at_once = 2;       ///< bodies of that size that are held at the same time
  std::size_t connections = 64;
  std::size_t event_streams = 16;
  std::size_t event_block = 64U << 10;  ///< bytes of events on their way to one client
  std::chrono::milliseconds header_time{10'000};
  std::chrono::milliseconds grace_time{1'000};  ///< for the first header, when others wait for a connection
  std::chrono::milliseconds body_time{30'000};
  std::chrono::milliseconds idle_time{60'000};       ///< between two requests
  std::chrono::milliseconds send_time{10'000};       ///< for one answer, or one block of events
  std::chrono::milliseconds heartbeat_time{15'000};  ///< a comment, when there is no event
};

/// The next lines for a client that has seen line `after`.
struct EventBlock {
  std::string bytes;       ///< as they go over the wire; empty: nothing new
  std::uint64_t last = 0;  ///< the line that the client has seen then
};

/// HTTP/1.1 on one address, on the thread of the io_context. It knows no route but the stream of events: every other request
/// goes to its owner. Requests that are malformed, too large, too slow or not allowed (WebAccess) never get there.
class WebServer {
 public:
  struct Owner {
    std::function<void(WebRequest, WebReply)> on_request;
    /// For GET /api/events. Nothing: this client is too far behind, and is cut off.
    std::function<std::optional<EventBlock>(std::uint64_t after, std::size_t most_bytes)> events_after;
    /// The line after which a new client begins, from its request (Last-Event-ID, ?after=).
    std::function<std::uint64_t(const WebRequest&)> first_event;
    /// What a browser is told that opens "/" without the token. Empty: the same as everybody else.
    std::function<WebAnswer()> no_token_page = {};
  };

  /// Listens, and takes nobody in before begin(); a port of 0 takes a free one.
  /// in   token  empty: none is asked for (loopback)
  /// err  the address is taken, or none of this computer
  [[nodiscard]] static Result<std::unique_ptr<WebServer>> open(boost::asio::io_context& loop,
                                                               WebAddress address, std::string token,
                                                               WebLimits limits = {});
  void begin(Owner owner);
  ~WebServer();
  WebServer(const WebServer&) = delete;
  WebServer& operator=(const WebServer&) = delete;

  /// With the port that it has got.
  [[nodiscard]] const WebAddress& address() const;
  [[nodiscard]] const std::string& token() const;
  /// "http://127.0.0.1:8723/", with the token where one is asked for.
  [[nodiscard]] std::string url() const;
  /// There are new events.
  void wake_streams();
  /// Answers that are still on their way.
  [[nodiscard]] std::size_t answers_under_way() const;
  [[nodiscard]] std::size_t connections() const;
  /// Takes no more connections and ends the streams; what is being answered goes on.
  void stop();

 private:
  class Shared;
  class Session;
  explicit WebServer(std::shared_ptr<Shared> shared);
  std::shared_ptr<Shared> shared_;
};

}  // namespace sumplog
