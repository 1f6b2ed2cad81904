#include "core/job/job_settings.h"

#include <charconv>
#include <chrono>
#include <cmath>

#include "core/job/setting.h"

namespace sumplog {
namespace {

std::optional<double> number(std::string_view text) {
  double value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc{} || end != text.data() + text.size() || !std::isfinite(value)) return std::nullopt;
  return value;
}

// Fluid that is lived with lies between these (°C); a window outside them is a slip of the pen.
constexpr double kColdest_c = -60;
constexpr double kHottest_c = 250;

constexpr double kLongest_s = 86400;   // a day; no stay and no age is longer
constexpr double kLargestStep_c = 20;  // no thermometer is coarser

std::string folder_of(const std::string& name) {
  return name.substr(0, name.find('/'));
}
bool is_file(const std::string& name, std::string_view file) {
  return name.size() > file.size() && name.ends_with(file) && name[name.size() - file.size() - 1] == '/';
}

Duration seconds_of(double s) {
  return Duration{static_cast<std::int64_t>(std::llround(s * 1e6))};
}

}  // namespace

Result<TemperatureWindow> parse_window(std::string_view text) {
  const std::size_t colon = text.find(':');
  const auto wrong = [&](const std::string& why) {
    return fault("window '" + std::string(text) + "' " + why, "", "give LOW:HIGH in °C, for example 35:45");
  };
  if (colon == std::string_view::npos) return wrong("has no colon");
  const auto low = number(text.substr(0, colon));
  const auto high = number(text.substr(colon + 1));
  if (!low || !high) return wrong("is not two numbers");
  if (*low >= *high) return wrong("has its low end not below its high end");
  if (*low < kColdest_c || *high > kHottest_c) return wrong("is not a fluid temperature");
  return TemperatureWindow{{*low}, {*high}};
}

void ConfigurationReader::on_item(const Item& item) {
  if (const auto* settings = std::get_if<Settings>(&item))
    values_.insert(values_.end(), settings->values.begin(), settings->values.end());
  if (const auto* text = std::get_if<DecoderText>(&item)) texts_.push_back(*text);
}

JobConfiguration ConfigurationReader::finish() const {
  JobConfiguration out;
  std::vector<std::pair<std::string, ServiceFile>> services;
  for (const DecoderText& text : texts_) {
    if (is_file(text.name, "signals.toml")) {
      if (auto decoder = parse_decoder(text.text, text.name))
        out.decoders.push_back(std::move(*decoder));
      else
        out.problems.push_back("decoder is not used: " + decoder.error().text());
    } else if (is_file(text.name, "service.toml")) {
      if (auto service = parse_service_file(text.text, text.name))
        services.emplace_back(folder_of(text.name), std::move(*service));
      else
        out.problems.push_back("service file is not used: " + service.error().text());
    } else if (is_file(text.name, "codes.toml")) {
      if (auto codes = parse_code_file(text.text, text.name))
        out.codes.add(std::move(*codes));
      else
        out.problems.push_back("code file is not used: " + codes.error().text());
    }
  }

  std::string wanted_service;
  std::optional<TemperatureWindow> window;
  std::optional<Duration> minimum_stay;
  const auto unused = [&](const std::string& key, const std::string& value, const char* why) {
    out.problems.push_back("setting is not used: " + key + " '" + value + "' " + why);
  };
  for (const auto& [key, value] : values_) {
    const auto n = number(value);
    if (key == setting::kService) {
      wanted_service = value;
    } else if (key == setting::kWindow) {
      if (auto parsed = parse_window(value))
        window = *parsed;
      else
        out.problems.push_back("setting is not used: " + parsed.error().text());
    } else if (key == setting::kRounding) {
      if (value == "round" || value == "floor" || value == "unknown")
        out.rounding = value == "round"   ? Rounding::round
                       : value == "floor" ? Rounding::floor
                                          : Rounding::unknown;
      else
        unused(key, value, "is none of round, floor, unknown");
    } else if (key == setting::kMinimumStay) {
      if (n && *n >= 0 && *n <= kLongest_s)
        minimum_stay = seconds_of(*n);
      else
        unused(key, value, "is not a time of 0 to 86400 seconds");
    } else if (key == setting::kFresh) {
      if (n && *n > 0 && *n <= kLongest_s)
        out.fresh = seconds_of(*n);
      else
        unused(key, value, "is not a time of up to 86400 seconds");
    } else if (key == setting::kStep) {
      if (n && *n > 0 && *n <= kLargestStep_c)
        out.step_c = *n;
      else
        unused(key, value, "is not a step of up to 20 °C");
    }
  }

  for (auto& [id, service] : services)
    if (id == wanted_service || (wanted_service.empty() && services.size() == 1))
      out.service = std::move(service);
  if (!wanted_service.empty() && !out.service)
    out.problems.push_back("setting is not used: this job has no service file of '" + wanted_service + "'");
  if (out.service && out.service->window) out.window = out.service->window->value;
  if (window) out.window = window;
  if (out.service && out.service->minimum_stay) out.minimum_stay = out.service->minimum_stay->value;
  if (minimum_stay) out.minimum_stay = *minimum_stay;
  if (!out.window) {
    out.no_window_why = services.size() > 1 && !out.service
                            ? "several service files are in use and none was chosen"
                            : "no window is set";
  }
  return out;
}

std::vector<Decoder> decoders_of(const std::vector<Item>& header) {
  ConfigurationReader reader;
  for (const Item& item : header) reader.on_item(item);
  return reader.finish().decoders;
}

}  // namespace sumplog
