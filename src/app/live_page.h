#pragma once
#include <boost/asio/io_context.hpp>
#include <memory>
#include <optional>

#include "app/program_settings.h"
#include "io/web_server.h"

namespace sumplog {

/// Where the page is served; nothing: nowhere.
/// err  no ADDRESS:PORT, with the place of the setting
[[nodiscard]] Result<std::optional<WebAddress>> page_address(const ProgramSettings& settings);

/// Listens, before there is a job: a wrong address leaves no file behind. A port that is taken costs the page, not the job,
/// unless a person named it.
/// out  nothing: there is no page
[[nodiscard]] Result<std::unique_ptr<WebServer>> open_page(boost::asio::io_context& loop,
                                                           const ProgramSettings& settings);

/// The same for what goes on at the page alone: a port that is taken is an error too. There is always a page.
/// in   address  of page_address
[[nodiscard]] Result<std::unique_ptr<WebServer>> open_needed_page(boost::asio::io_context& loop,
                                                                  const ProgramSettings& settings,
                                                                  const WebAddress& address);

/// Says where the page is, in the log; for the network also as a QR code, when a person is looking.
void tell_page(const WebServer& page);

}  // namespace sumplog
