#include "io/web_server.h"

#include <algorithm>
#include <boost/asio/buffer.hpp>
#include <chrono>
#include <utility>

#include "io/http_status.h"
#include "io/web_session.h"

namespace sumplog {

namespace asio = boost::asio;
using asio::ip::tcp;
using boost::system::error_code;

namespace {

constexpr auto kAcceptPause =
    std::chrono::milliseconds(100);  // after a failure, for example no free descriptor

/// For a connection too many, which gets no session.
std::string busy_answer() {
  const WebAnswer answer =
      web_fault(http_status::kUnavailable, Fault{"too many connections", "", "close other pages"});
  return "HTTP/1.1 503 Service Unavailable\r\nConnection: close\r\nRetry-After: 5\r\nContent-Type: " +
         answer.type + "\r\nContent-Length: " + std::to_string(answer.body.size()) + "\r\n\r\n" + answer.body;
}

}  // namespace

bool WebServer::Shared::has_room() {
  if (sessions.size() < limits.connections) return true;
  // The oldest are first. It leaves the list when its handler has run: until then there is one more.
  const auto silent = std::find_if(sessions.begin(), sessions.end(), [&](const Session* one) {
    return one->open() && one->silent_for(limits.grace_time);
  });
  if (silent == sessions.end()) return false;
  (*silent)->close();
  return true;
}

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
    if (!self->has_room()) {
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
