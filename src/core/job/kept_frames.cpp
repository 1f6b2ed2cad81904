#include "core/job/kept_frames.h"

#include "core/j1939/identifier.h"
#include "core/j1939/transport.h"

namespace sumplog {
namespace {

// SAE J1939-21: what is asked, denied and claimed belongs to the groups that are read.
constexpr std::uint32_t kRequest = 0xEA00;
constexpr std::uint32_t kAcknowledgement = 0xE800;

}  // namespace

KeptFrames::KeptFrames(const std::vector<Decoder>& decoders)
    : book_(named_units(decoders)), interpreter_(decoders) {}

bool KeptFrames::keeps(const CanFrame& frame) const {
  if (frame.kind == FrameKind::error) return true;
  if (frame.kind == FrameKind::remote) return false;
  if (book_.classify(frame.id) || interpreter_.names(frame.id)) return true;
  if (!interpreter_.wants_groups()) return false;
  const auto id = split_identifier(frame.id);
  return id && (id->group == kGroupTransportManagement || id->group == kGroupTransportData ||
                id->group == kRequest || id->group == kAcknowledgement || id->group == kAddressClaimed ||
                interpreter_.wants(id->group));
}

}  // namespace sumplog
