#pragma once
#include <arpa/inet.h>
#include <gtest/gtest.h>
#include <netinet/in.h>
#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

#include <boost/asio/io_context.hpp>
#include <boost/asio/post.hpp>
#include <chrono>
#include <string>
#include <string_view>
#include <thread>

#include "io/file_descriptor.h"

namespace sumplog::test {

/// A client that sends what it likes, byte for byte.
class RawClient {
 public:
  explicit RawClient(std::uint16_t port, int receive_buffer = 0)
      : socket_(::socket(AF_INET, SOCK_STREAM, 0)) {
    if (receive_buffer > 0)
      (void)::setsockopt(socket_.get(), SOL_SOCKET, SO_RCVBUF, &receive_buffer, sizeof receive_buffer);
    sockaddr_in to{};
    to.sin_family = AF_INET;
    to.sin_port = htons(port);
    to.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    connected_ = ::connect(socket_.get(), reinterpret_cast<const sockaddr*>(&to), sizeof to) == 0;
  }
  [[nodiscard]] bool connected() const { return connected_; }
  void send(std::string_view bytes) {
    while (!bytes.empty()) {
      const ssize_t n = ::send(socket_.get(), bytes.data(), bytes.size(), MSG_NOSIGNAL);
      if (n <= 0) return;
      bytes.remove_prefix(static_cast<std::size_t>(n));
    }
  }
  /// Reads until the text holds `wanted`, the server closes, or the patience ends.
  std::string read_until(std::string_view wanted,
                         std::chrono::milliseconds patience = std::chrono::seconds(20)) {
    const auto limit = std::chrono::steady_clock::now() + patience;
    while (wanted.empty() || heard_.find(wanted) == std::string::npos) {
      const auto left =
          std::chrono::duration_cast<std::chrono::milliseconds>(limit - std::chrono::steady_clock::now());
      pollfd wait{socket_.get(), POLLIN, 0};
      if (left.count() <= 0 || ::poll(&wait, 1, static_cast<int>(left.count())) <= 0) break;
      char block[65536];
      const ssize_t n = ::recv(socket_.get(), block, sizeof block, 0);
      if (n <= 0) {
        closed_ = true;
        break;
      }
      heard_.append(block, static_cast<std::size_t>(n));
    }
    return heard_;
  }
  /// Everything until the server closes.
  std::string read_all() { return read_until({}); }
  [[nodiscard]] bool closed() const { return closed_; }
  void forget() { heard_.clear(); }

 private:
  FileDescriptor socket_;
  bool connected_ = false;
  bool closed_ = false;
  std::string heard_;
};

/// A loop on its own thread.
class LoopThread {
 public:
  LoopThread() : work_(boost::asio::make_work_guard(loop)), thread_([this] { loop.run(); }) {}
  ~LoopThread() {
    loop.stop();
    thread_.join();
  }
  /// Runs it on the loop's thread and waits for its end.
  template <class F>
  auto on_loop(F call) {
    std::packaged_task<decltype(call())()> task(std::move(call));
    auto result = task.get_future();
    boost::asio::post(loop, [&task] { task(); });
    return result.get();
  }
  boost::asio::io_context loop{1};

 private:
  boost::asio::executor_work_guard<boost::asio::io_context::executor_type> work_;
  std::thread thread_;
};

inline unsigned status_of(const std::string& answer) {
  return answer.size() > 12 && answer.starts_with("HTTP/1.1 ")
             ? static_cast<unsigned>(std::stoul(answer.substr(9, 3)))
             : 0;
}

}  // namespace sumplog::test
