#pragma once
#include <cstdint>
#include <span>
#include <vector>

#include "core/item/time.h"

namespace sumplog {

/// Whether something in an answer moves as slowly as a warming fluid does. The rule is plain, it only decides what is asked
/// again soon:
///
///   a place       one byte, or two neighbouring bytes as one number (high byte first, or low byte first)
///   a small step  it changed since the answer before by at most 2 for a byte, 16 for a pair, and as much again for each
///                 4 s (byte) or 2 s (pair) that lay between; a larger one is a jump. Counted around the end: 255 to 0 is 1.
///   slow          some place has moved by small steps, and at least four times as often as it jumped
///
/// So a temperature counts in every usual form (1 °C a step down to 1/256 °C, at 5 °C a minute and more); what jumps about does
/// not. A voltage, a slow counter or the high byte of an engine speed may: that costs some questions, and what it really is,
/// the offline analysis says.
/// src  own choice, all of it
class SlowChange {
 public:
  /// in   payload  what stands behind the identifier; of a long one the first 64 bytes are watched
  void on_payload(std::span<const std::uint8_t> payload, TimePoint at);
  /// Some answer differed from the one before it.
  [[nodiscard]] bool changed() const { return changed_; }
  [[nodiscard]] bool slow() const;

 private:
  struct Steps {
    int small = 0;
    int jumps = 0;
    void add(int step, int most);
  };
  struct Place {
    Steps byte;
    Steps high_first;  ///< with the byte behind it
    Steps low_first;
  };

  std::vector<std::uint8_t> last_;
  std::vector<Place> places_;
  TimePoint last_at_{};
  bool changed_ = false;
};

}  // namespace sumplog
