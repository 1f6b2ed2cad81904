#pragma once
#include <charconv>
#include <cmath>
#include <istream>
#include <limits>
#include <optional>
#include <string>
#include <vector>

#include "core/item/time.h"

namespace sumplog::bench {

/// One row of a table of readings: `t_s,temp_c` and, where they are, `speed_kmh`, `event`.
struct Row {
  TimePoint at{};
  double t_s = 0;
  std::optional<double> temp_c;
  std::optional<double> speed_kmh;
  std::string event;
};

inline std::vector<std::string> fields_of(std::string line) {
  if (!line.empty() && line.back() == '\r') line.pop_back();
  std::vector<std::string> fields(1);
  for (const char c : line) {
    if (c == ',')
      fields.emplace_back();
    else
      fields.back() += c;
  }
  return fields;
}

inline std::optional<double> number_of(const std::string& text) {
  double value = 0;
  const char* const end = text.data() + text.size();
  const auto [stop, error] = std::from_chars(text.data(), end, value);
  if (text.empty() || error != std::errc{} || stop != end || !std::isfinite(value)) return std::nullopt;
  return value;
}

/// Rows of a table with a header. Rows without a time are left out.
inline std::vector<Row> read_series(std::istream& in) {
  std::string line;
  std::getline(in, line);
  const auto header = fields_of(line);
  std::vector<Row> rows;
  while (std::getline(in, line)) {
    const auto fields = fields_of(line);
    Row row;
    std::optional<double> t;
    for (std::size_t i = 0; i < fields.size() && i < header.size(); ++i) {
      if (header[i] == "t_s") t = number_of(fields[i]);
      if (header[i] == "temp_c") row.temp_c = number_of(fields[i]);
      if (header[i] == "speed_kmh") row.speed_kmh = number_of(fields[i]);
      if (header[i] == "event") row.event = fields[i];
    }
    if (!t) continue;
    row.t_s = *t;
    row.at = at_micros(std::llround(*t * 1e6));
    rows.push_back(row);
  }
  return rows;
}

}  // namespace sumplog::bench
