#include "core/capture/csv_reader.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <utility>

#include "core/capture/decimal_time.h"
#include "core/capture/text_reader.h"

namespace sumplog {
namespace {

constexpr std::string_view kTimeColumn = "t_s";
constexpr std::string_view kTemperatureColumn = "temp_c";
constexpr std::array<std::pair<std::string_view, std::string_view>, 5> kColumns{
    {{kTimeColumn, ""},
     {kTemperatureColumn, "fluid_temperature"},
     {"rpm", "engine_speed"},
     {"speed_kmh", "vehicle_speed"},
     {"coolant_c", "coolant_temperature"}}};

/// A field without blanks and without the quotes that RFC 4180 allows.
std::string_view field_text(std::string_view field) {
  field = trimmed(field);
  if (field.size() >= 2 && field.front() == '"' && field.back() == '"') {
    field = trimmed(field.substr(1, field.size() - 2));
  }
  return field;
}

void split(std::string_view row, std::vector<std::string_view>& fields) {
  fields.clear();
  for (;;) {
    const std::size_t comma = row.find(',');
    fields.push_back(field_text(row.substr(0, comma)));
    if (comma == std::string_view::npos) return;
    row.remove_prefix(comma + 1);
  }
}

bool is_number(std::string_view text) {
  double value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  return error == std::errc{} && end == text.data() + text.size() && std::isfinite(value);
}

class CsvReader final : public TextReader {
 private:
  void on_line(std::string_view line, std::uint64_t number) override {
    if (line.front() == '#') return;
    if (!header_read_) {
      header_read_ = true;
      auto columns = csv_columns(line);
      if (columns) {
        signals_ = std::move(*columns);
      } else {
        log_.bad_record(number, std::move(columns.error()));
      }
    } else if (!signals_
                    .empty()) {  // otherwise nothing after the header can be understood, and that was said
      on_row(line, number);
    }
  }

  bool carries_nothing(std::string_view line) const override { return line.front() == '#'; }

  void on_row(std::string_view row, std::uint64_t number) {
    split(row, fields_);
    if (fields_.size() != signals_.size()) {
      log_.bad_record(number, "the row has " + std::to_string(fields_.size()) + " fields, the header has " +
                                  std::to_string(signals_.size()));
      return;
    }
    std::optional<std::int64_t> time;
    for (std::size_t i = 0; i < fields_.size(); ++i) {
      std::string_view& field = fields_[i];
      if (signals_[i].empty()) {
        time = decimal_micros(field);
        if (!time) {
          log_.bad_record(number, "t_s is '" + std::string(field) + "', not a number of seconds");
          return;
        }
      } else if (!field.empty()) {
        if (field.front() == '+') field.remove_prefix(1);
        if (!is_number(field)) {
          log_.bad_record(number, "'" + std::string(field) + "' is not a number");
          return;
        }
      }
    }
    for (std::size_t i = 0; i < fields_.size(); ++i) {
      if (!signals_[i].empty())
        log_.add(GivenReading{at_micros(*time), signals_[i], std::string(fields_[i])});
    }
  }

  bool header_read_ = false;
  std::vector<std::string> signals_;  ///< of each column; the time's is empty
  std::vector<std::string_view> fields_;
};

}  // namespace

Result<std::vector<std::string>, std::string> csv_columns(std::string_view header) {
  std::vector<std::string_view> names;
  split(header, names);
  std::vector<std::string> signals;
  for (auto name = names.begin(); name != names.end(); ++name) {
    const auto column =
        std::find_if(kColumns.begin(), kColumns.end(), [&](const auto& pair) { return pair.first == *name; });
    if (column == kColumns.end()) {
      return tl::unexpected<std::string>("column '" + std::string(*name) +
                                         "' is not known; t_s, temp_c, rpm, speed_kmh and coolant_c are");
    }
    if (std::find(names.begin(), name, *name) != name)
      return tl::unexpected<std::string>("column '" + std::string(*name) + "' stands twice");
    signals.emplace_back(column->second);
  }
  for (const std::string_view needed : {kTimeColumn, kTemperatureColumn}) {
    if (std::find(names.begin(), names.end(), needed) == names.end())
      return tl::unexpected<std::string>("column '" + std::string(needed) + "' is missing");
  }
  return signals;
}

std::unique_ptr<CaptureReader> make_csv_reader() {
  return std::make_unique<CsvReader>();
}

}  // namespace sumplog
