#pragma once
#include <memory>

#include "core/capture/reader.h"

namespace sumplog {

/// Reads a log of candump -l. Blank lines and lines that begin with # are passed over.
/// src  can-utils candump.c, canplayer.c
[[nodiscard]] std::unique_ptr<CaptureReader> make_candump_reader();

}  // namespace sumplog
