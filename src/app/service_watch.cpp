#include "app/service_watch.h"

namespace sumplog {
namespace {

constexpr int kNoticesInPatience = 3;  // sd_watchdog_enabled(3) asks for two at least

}  // namespace

ServiceWatch::ServiceWatch(boost::asio::io_context& loop, std::string_view status) : timer_(loop) {
  notice_.status(status);
  notice_.ready();
  if (notice_.patience()) tell();
}

void ServiceWatch::tell() {
  notice_.alive();
  timer_.expires_after(*notice_.patience() / kNoticesInPatience);
  timer_.async_wait([this, here = std::weak_ptr(here_)](boost::system::error_code error) {
    if (!error && !here.expired()) tell();
  });
}

}  // namespace sumplog
