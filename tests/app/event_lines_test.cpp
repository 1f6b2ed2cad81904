#include "app/event_lines.h"

#include <gtest/gtest.h>

#include <vector>

namespace sumplog {
namespace {

TEST(EventLines, ComeOutOfAnyPieces) {
  const std::string stream =
      "retry: 1000\n\nid: 4\ndata: {\"a\":1}\n\n: comment\n\nid: 5\ndata: {}\n\nid: 6\n";
  for (std::size_t cut = 0; cut <= stream.size(); ++cut) {
    EventLines lines;
    std::vector<std::uint64_t> ids;
    for (const std::string& piece : {stream.substr(0, cut), stream.substr(cut)}) {
      lines.on_bytes(piece);
      while (const auto one = lines.next()) ids.push_back(one->id);
    }
    EXPECT_EQ(ids, (std::vector<std::uint64_t>{4, 5})) << cut;
  }
}

}  // namespace
}  // namespace sumplog
