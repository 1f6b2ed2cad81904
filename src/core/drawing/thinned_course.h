#pragma once
#include <cstddef>
#include <cstdint>
#include <optional>
#include <vector>

#include "core/item/time.h"

namespace sumplog {

/// A value over time in bounded memory, for a picture: what falls into one slice of time is kept as its first, lowest, highest
/// and last point, so no peak is lost. Slices begin with a second; when there are more than kMost of them they become twice as
/// long. So a day of 24 hours has slices of 32 s, and a course never takes more than kMost * sizeof(Piece), 4096 * 72 bytes.
///
/// A pause stays a pause: points are joined only when nothing is missing between them.
class ThinnedCourse {
 public:
  static constexpr std::size_t kMost = 4096;  ///< slices

  struct Point {
    TimePoint at{};
    double value = 0;
  };
  struct Piece {
    Point first, low, high, last;
    bool joined = false;  ///< nothing is missing between the piece before and this one
    bool whole = true;    ///< nothing is missing inside
  };

  /// in   longest_pause  two points farther apart have a gap between them
  explicit ThinnedCourse(Duration longest_pause) : longest_pause_(longest_pause) {}
  void set_longest_pause(Duration pause) { longest_pause_ = pause; }

  /// Points come in the order of their times; one that is older than the last is taken for as old.
  void add(TimePoint at, double value);
  /// The next point is not joined to what came before.
  void interrupt() { interrupted_ = true; }
  /// The same for a gap that is told afterwards, when its end has been added already.
  void interrupt_before(TimePoint at);

  [[nodiscard]] const std::vector<Piece>& pieces() const { return pieces_; }
  [[nodiscard]] std::optional<TimePoint> last() const;
  /// The pieces from `from` to `to`, joined so that no slice is shorter than `shortest`.
  [[nodiscard]] std::vector<Piece> pieces(TimePoint from, TimePoint to, Duration shortest) const;

 private:
  Duration longest_pause_;
  Duration slice_ = std::chrono::seconds{1};
  bool interrupted_ = true;
  std::vector<Piece> pieces_;
};

}  // namespace sumplog
