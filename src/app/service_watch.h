#pragma once
#include <boost/asio/io_context.hpp>
#include <boost/asio/steady_timer.hpp>
#include <memory>
#include <string_view>

#include "io/service_notice.h"

namespace sumplog {

/// Tells the service manager that this loop turns: by a timer of the loop itself, so that a loop that hangs goes silent.
class ServiceWatch {
 public:
  /// Says at once that the program is ready.
  ServiceWatch(boost::asio::io_context& loop, std::string_view status);
  ServiceWatch(const ServiceWatch&) = delete;
  ServiceWatch& operator=(const ServiceWatch&) = delete;

  void status(std::string_view text) const { notice_.status(text); }
  void stopping() const { notice_.stopping(); }

 private:
  void tell();

  ServiceNotice notice_ = ServiceNotice::from_environment();
  boost::asio::steady_timer timer_;
  std::shared_ptr<bool> here_ =
      std::make_shared<bool>();  ///< gone: a notice that was due already is not ours
};

}  // namespace sumplog
