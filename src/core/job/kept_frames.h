#pragma once
#include <vector>

#include "core/diagnostics/interpreter.h"
#include "core/isotp/addressing.h"
#include "core/item/frame.h"

namespace sumplog {

/// Which frames of a bus a job keeps: those of diagnostic identifiers, those that a decoder names, the groups of J1939 that it
/// reads with the transport that carries them, and error frames.
class KeptFrames {
 public:
  explicit KeptFrames(const std::vector<Decoder>& decoders);
  [[nodiscard]] bool keeps(const CanFrame& frame) const;

 private:
  AddressBook book_;
  Interpreter interpreter_;
};

}  // namespace sumplog
