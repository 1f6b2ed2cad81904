#include "core/job/kept_frames.h"

#include "core/j1939/identifier.h"
#include "core/j1939/transport.h"

namespace sumplog {

KeptFrames::KeptFrames(const std::vector<Decoder>& decoders)
    : book_(named_units(decoders)), interpreter_(decoders) {}

bool KeptFrames::keeps(const CanFrame& frame) const {
  if (frame.kind == FrameKind::error) return true;
  if (frame.kind == FrameKind::remote) return false;
  if (book_.classify(frame.id) || interpreter_.names(frame.id)) return true;
  if (!interpreter_.wants_groups()) return false;
  const auto id = split_identifier(frame.id);
  return id && (id->group == kGroupTransportManagement || id->group == kGroupTransportData ||
                interpreter_.wants(id->group));
}

}  // namespace sumplog
