#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "core/item/result.h"

namespace sumplog {

/// ADDRESS:PORT on which the page is served.
struct WebAddress {
  std::string address;  ///< a number, "127.0.0.1", "::1", "0.0.0.0"
  std::uint16_t port = 0;
  [[nodiscard]] bool loopback() const;
  [[nodiscard]] bool any() const { return address == "0.0.0.0" || address == "::"; }
  /// "127.0.0.1:8723", "[::1]:8723"
  [[nodiscard]] std::string text() const;
};

/// err  no port, no number as address; "localhost" is 127.0.0.1
[[nodiscard]] Result<WebAddress> parse_web_address(std::string_view text);

/// What a request says of where it comes from; an absent header is nothing.
struct WebOrigin {
  std::optional<std::string> host;
  std::optional<std::string> origin;
  std::optional<std::string> fetch_site;  ///< Sec-Fetch-Site
  std::optional<std::string> authorization;
  std::optional<std::string> cookie;
  std::optional<std::string> token;  ///< of the query
};

/// Who may speak to the server. On loopback everybody on this computer may, but no foreign page in his browser: the name in
/// `Host` must be this computer's (a foreign name that was led here is refused), `Origin` must be this server. On every other
/// address a token is needed as well.
/// src  RFC 9110 7.2 (Host), RFC 6454 7 (Origin), Fetch Metadata (Sec-Fetch-Site), RFC 6750 2.1 (Bearer)
class WebAccess {
 public:
  /// in   token  empty on loopback
  WebAccess(WebAddress address, std::string token);

  /// err  why it is refused; `status` is then 400, 401 or 403
  [[nodiscard]] Result<void> check(const WebOrigin& from, unsigned& status) const;
  [[nodiscard]] const std::string& token() const { return token_; }
  /// The cookie that stands for the token.
  [[nodiscard]] std::string cookie_name() const;
  /// Compares in a time that says nothing of where they differ.
  [[nodiscard]] bool is_token(std::string_view given) const;

 private:
  [[nodiscard]] bool knows_host(std::string_view host) const;
  [[nodiscard]] bool has_token(const WebOrigin& from) const;

  WebAddress address_;
  std::string token_;
};

}  // namespace sumplog
