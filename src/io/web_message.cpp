#include "io/web_message.h"

#include <cstdint>

#include "core/item/json_line.h"

namespace sumplog {
namespace {

constexpr char kHex[] = "0123456789ABCDEF";

int hex_digit(char c) {
  if (c >= '0' && c <= '9') return c - '0';
  if (c >= 'a' && c <= 'f') return c - 'a' + 10;
  if (c >= 'A' && c <= 'F') return c - 'A' + 10;
  return -1;
}

bool is_control(char c) {
  return static_cast<unsigned char>(c) < 0x20 || c == 0x7F;
}

// src  RFC 3986 2.1; '+' for a space only in a query (HTML forms)
std::optional<std::string> decoded(std::string_view text, bool in_query) {
  std::string out;
  for (std::size_t i = 0; i < text.size(); ++i) {
    char c = text[i];
    if (c == '%') {
      if (i + 2 >= text.size()) return std::nullopt;
      const int high = hex_digit(text[i + 1]);
      const int low = hex_digit(text[i + 2]);
      if (high < 0 || low < 0) return std::nullopt;
      c = static_cast<char>(high << 4 | low);
      i += 2;
    } else if (c == '+' && in_query) {
      c = ' ';
    }
    if (is_control(c)) return std::nullopt;
    out += c;
  }
  return out;
}

}  // namespace

WebAnswer web_fault(unsigned status, const Fault& fault) {
  JsonLine line;
  line.text("error", fault.what);
  line.text("where", fault.place);
  line.text("way_out", fault.way_out);
  return {status, "application/json", line.take() + "\n", {}};
}

std::optional<WebTarget> parse_target(std::string_view target) {
  if (!target.starts_with('/')) return std::nullopt;
  const std::size_t question = std::min(target.find('?'), target.size());
  auto path = decoded(target.substr(0, question), false);
  if (!path) return std::nullopt;
  WebTarget parsed{std::move(*path), {}};
  std::string_view rest = target.substr(std::min(question + 1, target.size()));
  while (!rest.empty()) {
    const std::size_t end = std::min(rest.find('&'), rest.size());
    const std::string_view pair = rest.substr(0, end);
    rest.remove_prefix(std::min(end + 1, rest.size()));
    const std::size_t equals = std::min(pair.find('='), pair.size());
    auto key = decoded(pair.substr(0, equals), true);
    auto value = decoded(pair.substr(std::min(equals + 1, pair.size())), true);
    if (!key || !value) return std::nullopt;
    parsed.query.insert_or_assign(std::move(*key), std::move(*value));
  }
  return parsed;
}

std::string percent_encoded(std::string_view text) {
  std::string out;
  for (const char c : text) {
    const bool plain = (c >= '0' && c <= '9') || (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') ||
                       c == '-' || c == '_' || c == '.' || c == '~';
    if (plain) {
      out += c;
      continue;
    }
    const auto byte = static_cast<std::uint8_t>(c);
    out += '%';
    out += kHex[byte >> 4];
    out += kHex[byte & 0xF];
  }
  return out;
}

}  // namespace sumplog
