#pragma once
#include <vector>

#include "core/decoder/decoder.h"
#include "core/item/item.h"
#include "fuzz/target.h"

namespace sumplog::fuzz {

/// A whole job out of bytes: the bytes steer what happens, so that most of them reach transport, diagnostics and level check.
///   byte 0        low half: time since the record before (message_check.h, gap); high half: what happens (job_script.cpp)
///   then          what that needs
/// in  most  records that are taken
[[nodiscard]] std::vector<Item> job_script(Bytes bytes, std::size_t most);

/// The decoders of that job.
[[nodiscard]] const std::vector<Decoder>& script_decoders();

}  // namespace sumplog::fuzz
