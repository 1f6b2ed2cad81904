#pragma once
#include <string>
#include <vector>

#include "core/item/item.h"

namespace sumplog {

/// What a job goes by, each with its origin: decoders, window, figures and cautions of the service file. It stands in the
/// job's opening items and does not change.
/// out  one JSON object, described in docs/web.md; what is not known is absent
[[nodiscard]] std::string job_terms(const std::vector<Item>& header);

}  // namespace sumplog
