#include "io/web_access.h"

#include <arpa/inet.h>

#include <algorithm>
#include <charconv>
#include <utility>

#include "io/http_status.h"

namespace sumplog {
namespace {

constexpr std::string_view kBearer = "Bearer ";

std::string lower(std::string_view text) {
  std::string out(text);
  for (char& c : out)
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
  return out;
}

bool is_ipv4(const std::string& text) {
  in_addr number{};
  return ::inet_pton(AF_INET, text.c_str(), &number) == 1;
}
bool is_ipv6(const std::string& text) {
  in6_addr number{};
  return ::inet_pton(AF_INET6, text.c_str(), &number) == 1;
}

/// The value of one cookie of "a=1; b=2" (RFC 6265 4.2.1).
std::optional<std::string_view> cookie_of(std::string_view cookies, std::string_view name) {
  while (!cookies.empty()) {
    const std::size_t end = std::min(cookies.find(';'), cookies.size());
    std::string_view one = cookies.substr(0, end);
    cookies.remove_prefix(std::min(end + 1, cookies.size()));
    while (one.starts_with(' ')) one.remove_prefix(1);
    const std::size_t equals = one.find('=');
    if (equals != std::string_view::npos && one.substr(0, equals) == name) return one.substr(equals + 1);
  }
  return std::nullopt;
}

}  // namespace

bool WebAddress::loopback() const {
  return address.starts_with("127.") || address == "::1";
}

std::string WebAddress::text() const {
  const std::string name = address.find(':') == std::string::npos ? address : "[" + address + "]";
  return name + ":" + std::to_string(port);
}

Result<WebAddress> parse_web_address(std::string_view text) {
  const auto wrong = fault("'" + std::string(text) + "' is no ADDRESS:PORT", {},
                           "for example 127.0.0.1:8723, 0.0.0.0:8723 or [::1]:8723; off for no page");
  const std::size_t colon = text.rfind(':');
  if (colon == std::string_view::npos) return wrong;
  std::string_view address = text.substr(0, colon);
  const std::string_view port = text.substr(colon + 1);
  WebAddress parsed;
  const auto [end, error] = std::from_chars(port.data(), port.data() + port.size(), parsed.port);
  if (port.empty() || error != std::errc{} || end != port.data() + port.size()) return wrong;
  const bool bracketed = address.size() > 2 && address.starts_with('[') && address.ends_with(']');
  if (bracketed) address = address.substr(1, address.size() - 2);
  parsed.address = address == "localhost" ? "127.0.0.1" : std::string(address);
  if (bracketed ? !is_ipv6(parsed.address) : !is_ipv4(parsed.address)) return wrong;
  return parsed;
}

WebAccess::WebAccess(WebAddress address, std::string token)
    : address_(std::move(address)), token_(std::move(token)) {}

std::string WebAccess::cookie_name() const {
  return "sumplog_" + std::to_string(address_.port);
}

bool WebAccess::is_token(std::string_view given) const {
  // Every byte of what was given is looked at, whatever it is.
  unsigned differs = given.size() == token_.size() && !token_.empty() ? 0U : 1U;
  for (std::size_t i = 0; i < given.size(); ++i) {
    const char wanted = token_.empty() ? '\0' : token_[i % token_.size()];
    differs |=
        static_cast<unsigned>(static_cast<unsigned char>(given[i]) ^ static_cast<unsigned char>(wanted));
  }
  return differs == 0;
}

bool WebAccess::has_token(const WebOrigin& from) const {
  if (from.authorization && from.authorization->starts_with(kBearer) &&
      is_token(std::string_view(*from.authorization).substr(kBearer.size())))
    return true;
  if (from.token && is_token(*from.token)) return true;
  if (!from.cookie) return false;
  const auto cookie = cookie_of(*from.cookie, cookie_name());
  return cookie && is_token(*cookie);
}

bool WebAccess::knows_host(std::string_view host) const {
  // Elsewhere a computer has many names, and the token keeps foreign pages out: they have no cookie of ours.
  if (!address_.loopback()) return true;
  const std::string port = ":" + std::to_string(address_.port);
  for (const char* const name : {"127.0.0.1", "localhost", "[::1]"})
    if (host == name + port || (address_.port == 80 && host == name)) return true;
  return host == lower(address_.text());
}

Result<void> WebAccess::check(const WebOrigin& from, unsigned& status) const {
  if (!from.host || from.host->empty()) {
    status = http_status::kBadRequest;
    return fault("the request names no host", "Host", "send HTTP/1.1 with a Host header");
  }
  const std::string host = lower(*from.host);
  status = http_status::kForbidden;
  if (!knows_host(host))
    return fault("this is not the name of this server", "Host: " + *from.host,
                 "use http://" + address_.text() + "/");
  if (from.origin && lower(*from.origin) != "http://" + host)
    return fault("a page of another place may not speak to sumplog", "Origin: " + *from.origin,
                 "use the page of this server");
  if (from.fetch_site && (*from.fetch_site == "cross-site" || *from.fetch_site == "same-site"))
    return fault("a page of another place may not speak to sumplog", "Sec-Fetch-Site: " + *from.fetch_site,
                 "use the page of this server");
  if (!token_.empty() && !has_token(from)) {
    status = http_status::kUnauthorized;
    return fault("this needs the token that sumplog printed when it started", "Authorization",
                 "open the address that it printed, or send 'Authorization: Bearer TOKEN'");
  }
  status = 200;
  return {};
}

}  // namespace sumplog
