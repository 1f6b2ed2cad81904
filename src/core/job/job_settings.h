#pragma once
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "core/codes/code_table.h"
#include "core/decoder/decoder.h"
#include "core/decoder/service_file.h"
#include "core/item/item.h"
#include "core/thermal/thermometer.h"

namespace sumplog {

/// Everything that shapes a job's outputs, checked.
struct JobConfiguration {
  std::vector<Decoder> decoders;
  CodeTable codes;  ///< of all decoders, a later one over an earlier one
  std::optional<ServiceFile> service;
  std::optional<TemperatureWindow>
      window;                 ///< of the setting, else of the service file; there is no default window
  std::string no_window_why;  ///< when there is none
  Duration minimum_stay =
      std::chrono::seconds{120};             // common practice, no source; a service file says its own
  Duration fresh = std::chrono::seconds{3};  ///< age of the last answer up to which it is live
  double step_c = 1;                         ///< of readings that no decoder describes
  Rounding rounding = Rounding::unknown;
  std::vector<std::string> problems;  ///< what could not be used, one clause each
};

/// Collects the items that open a job.
class ConfigurationReader {
 public:
  /// Settings and DecoderText count; of two settings the later value holds.
  void on_item(const Item& item);
  [[nodiscard]] JobConfiguration finish() const;

 private:
  std::vector<std::pair<std::string, std::string>> values_;
  std::vector<DecoderText> texts_;
};

/// Decoders of a job's opening items, as the job uses them.
[[nodiscard]] std::vector<Decoder> decoders_of(const std::vector<Item>& header);

/// "35:45" in °C.
/// err  what is wrong, with the form that is wanted
[[nodiscard]] Result<TemperatureWindow> parse_window(std::string_view text);

}  // namespace sumplog
