#include "core/drawing/markup.h"

#include "core/item/utf8.h"

namespace sumplog {

std::string escaped(std::string_view text) {
  constexpr std::string_view kReplacement = "\xEF\xBF\xBD";  // U+FFFD
  constexpr unsigned char kDelete = 0x7F;
  std::string out;
  out.reserve(text.size());
  for (std::size_t i = 0; i < text.size();) {
    const std::size_t length = utf8_length(text, i);
    const auto byte = static_cast<unsigned char>(text[i]);
    const bool control = (byte < ' ' && byte != '\n' && byte != '\t') || byte == kDelete;
    if (length == 0 || control) {
      out += kReplacement;
      ++i;
      continue;
    }
    switch (text[i]) {
      case '&': out += "&amp;"; break;
      case '<': out += "&lt;"; break;
      case '>': out += "&gt;"; break;
      case '"': out += "&quot;"; break;
      case '\'': out += "&#39;"; break;
      default: out += text.substr(i, length);
    }
    i += length;
  }
  return out;
}

}  // namespace sumplog
