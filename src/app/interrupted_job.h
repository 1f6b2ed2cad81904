#pragma once
#include <optional>
#include <string>

#include "app/program_settings.h"

namespace sumplog {

/// The job that this program held when it was killed, hung, or lost its power, a few minutes ago: its file is open, and beside
/// it lies the note of a page at this program's own address, which every other end takes away. The note is taken away now, so
/// a job that cannot be gone on with is tried once.
/// out  its path; nothing: there is none
[[nodiscard]] std::optional<std::string> take_interrupted_job(const ProgramSettings& settings);

}  // namespace sumplog
