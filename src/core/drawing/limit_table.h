#pragma once
#include <string>
#include <vector>

#include "core/job/job_settings.h"

namespace sumplog {

/// A figure that a job was judged by, and where it comes from.
struct LimitRow {
  std::string name;    ///< "window"
  std::string value;   ///< "35 to 45 °C"
  std::string origin;  ///< "invented: for the demo"
  std::string place;   ///< "demo-9/service.toml:8"; empty: it stands in no file
};

/// Every limit of the job's service file in the order of that file, and what a setting put in its place.
[[nodiscard]] std::vector<LimitRow> limit_table(const JobConfiguration& configuration, bool fahrenheit);

/// Where the reading of each decoder comes from: of the fluid temperature by itself, of its other signals together.
[[nodiscard]] std::vector<LimitRow> decoder_table(const JobConfiguration& configuration);

}  // namespace sumplog
