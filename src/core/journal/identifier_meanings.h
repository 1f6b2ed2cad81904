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
  /// nullptr when it is not remembered
  [[nodiscard]] const Meaning* of(CanId id) const {
    const Known& known = known_[place_of(id)];
    return known.key == key_of(id) ? &known.meaning : nullptr;
  }
  void remember(CanId id, Meaning meaning) { known_[place_of(id)] = {key_of(id), meaning}; }

 private:
  [[nodiscard]] static std::uint32_t key_of(CanId id) { return id.value << 1 | (id.extended ? 1U : 0U); }
  [[nodiscard]] static std::size_t place_of(CanId id) {
    return (id.value ^ id.value >> kPlaceBits) & (kPlaces - 1);
  }

  static constexpr unsigned kPlaceBits = 11;  // every identifier of 11 bits has a place of its own
  static constexpr std::size_t kPlaces = std::size_t{1} << kPlaceBits;
  struct Known {
    std::uint32_t key = 0xFFFFFFFF;  ///< identifier and its length; no identifier has this one
    Meaning meaning;
  };
  std::array<Known, kPlaces> known_{};
};

}  // namespace sumplog
