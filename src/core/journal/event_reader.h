#pragma once
#include <optional>
#include <string_view>

#include "core/journal/event.h"

namespace sumplog {

/// Turns a journal line back into its event: for whoever gets the journal over a wire or out of a file, and says the same words
/// of it as who made it.
/// in   line  one JSON object as journal_line() writes it, without a newline
/// out  journal_line() of it is `line` again. Nothing: no JSON, or a kind that this version does not know; a field that is absent
///      or has another type is as if it were not known
/// src  docs/journal.md
[[nodiscard]] std::optional<Event> event_of(std::string_view line);

}  // namespace sumplog
