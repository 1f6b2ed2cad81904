#pragma once
#include <optional>

#include "io/web_message.h"

namespace sumplog {

/// The page itself: "/" and what lies below "/page/", by GET or HEAD, the same whether a job is held or not.
/// out  nothing: the path is none of the page's. Else the file with its content security policy, or 404 or 405 as an error
///      object.
/// src  Content Security Policy Level 3 (W3C): nothing inline, nothing from another place, in nobody's frame
[[nodiscard]] std::optional<WebAnswer> page_answer(const WebRequest& request);

/// For a browser that opens the page without the token: what to do, in each language, with status 401.
[[nodiscard]] WebAnswer no_token_page();

}  // namespace sumplog
