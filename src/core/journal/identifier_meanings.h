#pragma once
#include <array>
#include <cstddef>
#include <cstdint>

#include "core/item/frame.h"

namespace sumplog {

/// What the frames of one identifier are to a job. Most are nothing.
struct Meaning {
  bool transport = false;  ///< part of a diagnostic message
  bool group = false;      ///< of SAE J1939, and somebody wants groups
  bool broadcast = false;  ///< a decoder names it
  [[nodiscard]] bool any() const { return transport || group || broadcast; }
};

/// Remembers the meaning of each identifier: it is found out once, not once for each frame. Identifiers that share a place of
/// the table push each other out and are asked about again.
class IdentifierMeanings {
 public:
  /// in   find_out  called with the identifier when its meaning is not remembered; always the same for one identifier
  template <class FindOut>
  [[nodiscard]] Meaning of(CanId id, FindOut find_out) {
    const std::uint32_t key = id.value << 1 | (id.extended ? 1U : 0U);
    Known& known = known_[(id.value ^ id.value >> kPlaceBits) & (kPlaces - 1)];
    if (known.key != key) known = {key, find_out(id)};
    return known.meaning;
  }

 private:
  static constexpr unsigned kPlaceBits = 11;  // every identifier of 11 bits has a place of its own
  static constexpr std::size_t kPlaces = std::size_t{1} << kPlaceBits;
  struct Known {
    std::uint32_t key = 0xFFFFFFFF;  ///< identifier and its length; no identifier has this one
    Meaning meaning;
  };
  std::array<Known, kPlaces> known_{};
};

}  // namespace sumplog
