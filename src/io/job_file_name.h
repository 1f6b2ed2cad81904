#pragma once
#include <string>
#include <string_view>

#include "core/item/time.h"

namespace sumplog {

/// The name of a job file: its begin in UTC and the beginning of its random id, "20251125-101500-3f2a91c0.log". It tells nothing
/// of the vehicle or the customer.
/// in   job  32 hex digits; what is neither letter nor digit is left out, so that no id can lead to another folder
[[nodiscard]] std::string job_file_name(TimePoint began, std::string_view job);

}  // namespace sumplog
