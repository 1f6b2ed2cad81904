#include "app/live_page.h"

#include <unistd.h>

#include <iostream>
#include <string>
#include <utility>

#include "app/job_place.h"
#include "app/program_log.h"
#include "app/qr_text.h"
#include "io/own_addresses.h"
#include "io/page_token.h"

namespace sumplog {
namespace {

constexpr char kUsualAddress[] = "127.0.0.1:8723";  // own choice
constexpr char kNoPage[] = "off";

/// "Any address" leads nobody here: the first one under which others reach this computer does.
std::string url_for_others(const WebServer& page) {
  const WebAddress& address = page.address();
  if (!address.any()) return page.url();
  const auto own = own_addresses();
  if (own.empty()) return page.url();
  const std::string url = page.url();
  const std::string from = "//" + address.text() + "/";
  const std::string to = "//" + own.front() + ":" + std::to_string(address.port) + "/";
  const auto at = url.find(from);
  return at == std::string::npos ? url : std::string(url).replace(at, from.size(), to);
}

}  // namespace

Result<std::optional<WebAddress>> page_address(const ProgramSettings& settings) {
  const std::string text = settings.value("listen").value_or(kUsualAddress);
  if (text == kNoPage) return std::nullopt;
  auto address = parse_web_address(text);
  if (!address) return fault(address.error().what, settings.place("listen"), address.error().way_out);
  return *address;
}

Result<std::unique_ptr<WebServer>> open_needed_page(boost::asio::io_context& loop,
                                                    const ProgramSettings& settings,
                                                    const WebAddress& address) {
  std::string token;
  if (!address.loopback()) {
    auto kept = page_token(data_folder(settings));
    if (!kept) return tl::unexpected(kept.error());
    token = std::move(*kept);
  }
  return WebServer::open(loop, address, std::move(token));
}

Result<std::unique_ptr<WebServer>> open_page(boost::asio::io_context& loop, const ProgramSettings& settings) {
  const auto address = page_address(settings);
  if (!address) return tl::unexpected(address.error());
  if (!*address) return nullptr;
  auto server = open_needed_page(loop, settings, **address);
  if (server || settings.value("listen")) return server;
  log_warning("the job goes on without its page: " + server.error().text());
  return nullptr;
}

void tell_page(const WebServer& page) {
  const std::string url = url_for_others(page);
  log_info("page: " + url);
  if (page.token().empty() || isatty(STDERR_FILENO) == 0) return;
  std::cerr << qr_text(url) << std::flush;
}

}  // namespace sumplog
