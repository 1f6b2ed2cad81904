#include "app/port_setting.h"

#include <cstdlib>

namespace sumplog {

Result<PortWish> port_wish(const ProgramSettings& settings) {
  PortWish wish{settings.value("interface").value_or(""), std::nullopt, std::nullopt};
  const auto number = [&](std::string_view key, double low, double high) -> Result<std::optional<double>> {
    const auto text = settings.value(key);
    if (!text || *text == "auto") return std::nullopt;
    char* end = nullptr;
    const double value = std::strtod(text->c_str(), &end);
    if (text->empty() || *end != '\0' || !(value >= low && value <= high))
      return fault("'" + *text + "' does not fit", settings.place(key),
                   key == "bitrate" ? "auto, or bit/s from 5000 to 1000000" : "auto, or from 0.5 to 0.95");
    return value;
  };
  const auto rate = number("bitrate", 5'000, 1'000'000);  // ISO 11898-2 ends at 1 Mbit/s
  if (!rate) return tl::unexpected(rate.error());
  if (*rate) wish.bit_rate = static_cast<std::uint32_t>(**rate);
  const auto sample = number("sample_point", 0.5, 0.95);
  if (!sample) return tl::unexpected(sample.error());
  wish.sample_point = *sample;
  return wish;
}

}  // namespace sumplog
