#pragma once
#include <boost/asio/io_context.hpp>
#include <boost/asio/posix/stream_descriptor.hpp>
#include <functional>

namespace sumplog {

/// Waits again and again until a descriptor that is not its own is readable.
class Readable {
 public:
  Readable(boost::asio::io_context& loop, int descriptor, std::function<void()> ready)
      : descriptor_(loop, descriptor), ready_(std::move(ready)) {
    wait();
  }
  ~Readable() { descriptor_.release(); }
  Readable(const Readable&) = delete;
  Readable& operator=(const Readable&) = delete;

 private:
  void wait() {
    descriptor_.async_wait(boost::asio::posix::stream_descriptor::wait_read,
                           [this](boost::system::error_code error) {
                             if (error) return;  // cancelled: this object is going away
                             // The call may end this object's life: it works on a copy, and nothing of this
                             // object is touched after it.
                             const auto ready = ready_;
                             wait();
                             ready();
                           });
  }
  boost::asio::posix::stream_descriptor descriptor_;
  std::function<void()> ready_;
};

}  // namespace sumplog
