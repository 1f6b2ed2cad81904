#pragma once
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "core/capture/reader.h"
#include "core/item/result.h"

namespace sumplog {

/// Columns of a CSV of readings, from its header row: for each column the signal name; empty for the time.
/// in   header  "t_s,temp_c" and, in any order, rpm, speed_kmh, coolant_c
/// err  a clause: unknown or repeated column, t_s or temp_c missing
[[nodiscard]] Result<std::vector<std::string>, std::string> csv_columns(std::string_view header);

/// Reads a CSV of readings made elsewhere: a GivenReading for each field, an empty field being "asked, no
/// value". The time is the column's own, from its own zero. A row that is wrong is left out as a whole. src
/// RFC 4180; columns: docs/captures.md
[[nodiscard]] std::unique_ptr<CaptureReader> make_csv_reader();

}  // namespace sumplog
