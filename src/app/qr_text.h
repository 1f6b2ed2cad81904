#pragma once
#include <string>

namespace sumplog {

/// A QR code for a terminal, two rows of modules in a line, light modules drawn, with its quiet zone.
/// src  ISO/IEC 18004, through libqrencode
/// out  empty: the text is too long for one
[[nodiscard]] std::string qr_text(const std::string& content);

}  // namespace sumplog
