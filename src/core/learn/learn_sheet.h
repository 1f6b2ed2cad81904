#pragma once
#include <string>
#include <vector>

#include "core/learn/evidence.h"
#include "core/learn/fluid_search.h"
#include "core/learn/next_look.h"

namespace sumplog {

/// What the search found, for a person: each line at most 80 columns where its words allow it.
[[nodiscard]] std::vector<std::string> learn_sheet(const SearchResult& result, const Evidence& evidence);

/// The same as JSON lines: one `learned` with the counts and `none`, one `signal` for each signal, `copy`, `next`.
/// src  docs/learn.md
[[nodiscard]] std::vector<std::string> learn_lines(const SearchResult& result, const Evidence& evidence);

}  // namespace sumplog
