#include "core/item/member_name.h"

#include <algorithm>

namespace sumplog {

bool is_safe_member_name(std::string_view name) {
  constexpr std::size_t kLongest = 100;    // bytes; POSIX ustar, `name`
  constexpr unsigned char kDelete = 0x7F;  // ASCII
  if (name.empty() || name.size() > kLongest) return false;
  const bool plain = std::all_of(name.begin(), name.end(), [](char c) {
    const auto byte = static_cast<unsigned char>(c);
    return byte >= ' ' && byte != kDelete && c != '\\';
  });
  if (!plain) return false;
  while (true) {
    const std::string_view part = name.substr(0, name.find('/'));
    if (part.empty() || part == "." || part == "..") return false;
    if (part.size() == name.size()) return true;
    name.remove_prefix(part.size() + 1);
  }
}

}  // namespace sumplog
