#pragma once
#include <string_view>

namespace sumplog::setting {

// Keys of the settings that shape the outputs of a job. They stand in the job file's `settings` item as text.

inline constexpr std::string_view kWindow = "window";    ///< "35:45", °C; overrules the service file's
inline constexpr std::string_view kService = "service";  ///< id of the decoder whose service file is used
inline constexpr std::string_view kMinimumStay = "min_stay_s";  ///< seconds
inline constexpr std::string_view kStep = "step_c";  ///< step of readings that no decoder describes, °C
inline constexpr std::string_view kRounding = "rounding";  ///< of the same: round, floor, unknown
inline constexpr std::string_view kFresh = "fresh_s";      ///< age of the last answer up to which it is live
inline constexpr std::string_view kRedacted =
    "redacted";  ///< "yes": a copy without plate, VIN and customer; shapes no output, but every sheet says so

inline constexpr std::string_view kYes = "yes";

}  // namespace sumplog::setting
