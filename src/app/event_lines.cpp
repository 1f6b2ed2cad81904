#include "app/event_lines.h"

#include <algorithm>
#include <cstdlib>

namespace sumplog {

std::optional<EventLines::One> EventLines::next() {
  while (true) {
    const std::size_t end = buffer_.find("\n\n");
    if (end == std::string::npos) return std::nullopt;
    const std::string block = buffer_.substr(0, end);
    buffer_.erase(0, end + 2);
    One one;
    for (std::size_t begin = 0; begin < block.size();) {
      const std::size_t stop = std::min(block.find('\n', begin), block.size());
      const std::string_view row = std::string_view(block).substr(begin, stop - begin);
      if (row.starts_with("id: ")) one.id = std::strtoull(std::string(row.substr(4)).c_str(), nullptr, 10);
      if (row.starts_with("data: ")) one.data += row.substr(6);
      begin = stop + 1;
    }
    if (!one.data.empty()) return one;
  }
}

}  // namespace sumplog
