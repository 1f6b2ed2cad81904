#pragma once
#include <string>
#include <string_view>

namespace sumplog {

/// Bytes as text, without line breaks.
/// src  RFC 4648, 4
[[nodiscard]] std::string base64(std::string_view bytes);

}  // namespace sumplog
