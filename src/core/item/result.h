#pragma once
#include <string>
#include <tl/expected.hpp>
#include <utility>

namespace sumplog {

/// A failure that a person must read: what is wrong, where, and the way out.
/// Outcomes that a vehicle may legally produce are data, never a Fault.
struct Fault {
  std::string what;     ///< one clause, no full stop: "unknown key 'scael'"
  std::string place;    ///< "file:line", a file, an interface, an option; empty when there is none
  std::string way_out;  ///< what to do; empty when `what` says it already

  /// "place: what; way_out" on one line.
  [[nodiscard]] std::string text() const {
    std::string line = place.empty() ? what : place + ": " + what;
    if (!way_out.empty()) line += "; " + way_out;
    return line;
  }
};

template <class T, class E = Fault>
using Result = tl::expected<T, E>;

[[nodiscard]] inline tl::unexpected<Fault> fault(std::string what, std::string place = {},
                                                 std::string way_out = {}) {
  return tl::unexpected<Fault>(Fault{std::move(what), std::move(place), std::move(way_out)});
}

}  // namespace sumplog
