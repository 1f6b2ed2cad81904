#include "core/drawing/thinned_course.h"

#include <algorithm>

namespace sumplog {
namespace {

using Piece = ThinnedCourse::Piece;

/// Slices lie on one grid, whenever the course began: so a course that is replayed has the same ones.
std::int64_t slice_of(TimePoint at, Duration slice) {
  const std::int64_t us = micros(at);
  const std::int64_t whole = us / slice.count();
  return us % slice.count() < 0 ? whole - 1 : whole;
}

void append(Piece& to, const Piece& more) {
  to.whole = to.whole && more.whole && more.joined;
  if (more.low.value < to.low.value) to.low = more.low;
  if (more.high.value > to.high.value) to.high = more.high;
  to.last = more.last;
}

std::vector<Piece> merged(const std::vector<Piece>& pieces, Duration slice) {
  std::vector<Piece> out;
  for (const Piece& piece : pieces) {
    if (!out.empty() && slice_of(out.back().first.at, slice) == slice_of(piece.first.at, slice))
      append(out.back(), piece);
    else
      out.push_back(piece);
  }
  return out;
}

}  // namespace

void ThinnedCourse::add(TimePoint at, double value) {
  if (!pieces_.empty()) at = std::max(at, pieces_.back().last.at);
  const Point point{at, value};
  Piece piece{point, point, point, point, false, true};
  piece.joined = !pieces_.empty() && !interrupted_ && at - pieces_.back().last.at <= longest_pause_;
  interrupted_ = false;
  if (!pieces_.empty() && slice_of(pieces_.back().first.at, slice_) == slice_of(at, slice_)) {
    append(pieces_.back(), piece);
    return;
  }
  pieces_.push_back(piece);
  while (pieces_.size() > kMost) {
    slice_ *= 2;
    pieces_ = merged(pieces_, slice_);
  }
}

void ThinnedCourse::interrupt_before(TimePoint at) {
  if (pieces_.empty() || pieces_.back().last.at < at) {
    interrupt();
    return;
  }
  Piece& piece = pieces_.back();
  if (piece.first.at >= at)
    piece.joined = false;
  else
    piece.whole = false;
}

std::optional<TimePoint> ThinnedCourse::last() const {
  if (pieces_.empty()) return std::nullopt;
  return pieces_.back().last.at;
}

std::vector<Piece> ThinnedCourse::pieces(TimePoint from, TimePoint to, Duration shortest) const {
  std::vector<Piece> part;
  for (const Piece& piece : pieces_)
    if (piece.last.at >= from && piece.first.at <= to) part.push_back(piece);
  Duration slice = slice_;
  while (slice < shortest) slice *= 2;
  return slice == slice_ ? part : merged(part, slice);
}

}  // namespace sumplog
