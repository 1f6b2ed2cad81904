#pragma once
#include "core/item/frame.h"
#include "core/item/time.h"
#include "core/journal/identifier_meanings.h"

namespace sumplog {

/// Frames of which is known that they change nothing in a job but its time: whoever reads a recording need not hand them to the
/// Flow one by one. Holds until the next item goes in.
struct PassBy {
  const IdentifierMeanings* meanings = nullptr;
  TimePoint before = TimePoint::min();  ///< the next deadline; nothing is passed by before there are meanings

  [[nodiscard]] bool covers(const CanFrame& frame) const {
    if (frame.at >= before || frame.kind == FrameKind::error) return false;
    const Meaning* const meaning = meanings->of(frame.id);
    return meaning != nullptr && !meaning->any();
  }
};

}  // namespace sumplog
