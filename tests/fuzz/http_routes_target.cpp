#include <array>

#include "fuzz/web_check.h"

namespace sumplog::fuzz {
namespace {

// The routes without a parser in the way. Bytes 0 and 1: method and type; then a line: the target; then the body.
void take(Bytes bytes) {
  Feed feed(bytes);
  constexpr std::array<const char*, 4> kMethods{"GET", "POST", "HEAD", "DELETE"};
  constexpr std::array<const char*, 3> kTypes{"application/json", "image/png", "text/plain"};
  const std::string method = kMethods[feed.below(kMethods.size())];
  const std::string type = kTypes[feed.below(kTypes.size())];
  const std::string_view rest = text_of(feed.rest());
  const std::size_t end = std::min(rest.find('\n'), rest.size());
  const auto target = parse_target(rest.substr(0, end));
  if (!target) return;
  for (const auto& [key, value] : target->query) {
    const auto again = parse_target("/?k=" + percent_encoded(value));
    require(again.has_value(), "a value of a query cannot be written");
    require_same(again->query.at("k"), value, "a value of a query changes when it is written");
  }
  ask({method, target->path, target->query, type, "",
       std::string(rest.substr(std::min(end + 1, rest.size())))});
}
const Registered kTarget("http_routes", take);

}  // namespace
}  // namespace sumplog::fuzz
