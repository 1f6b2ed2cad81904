#include <boost/asio/io_context.hpp>
#include <cstdlib>
#include <optional>

#include "app/can_port.h"
#include "app/commands.h"
#include "app/first_steps.h"
#include "app/live_run.h"
#include "app/program_log.h"
#include "app/rate_setting.h"

namespace sumplog {
namespace {

/// err  a bit rate or a sample point that is none, with its place
Result<PortWish> port_wish(const ProgramSettings& settings) {
  PortWish wish{*settings.value("interface"), std::nullopt, std::nullopt};
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

Result<std::unique_ptr<LivePort>> open_can(boost::asio::io_context& loop, const ProgramSettings& settings) {
  auto wish = port_wish(settings);
  if (!wish) return tl::unexpected(wish.error());
  auto port = CanPort::open(loop, std::move(*wish));
  if (!port) return tl::unexpected(port.error());
  return std::unique_ptr<LivePort>(std::move(*port));
}

}  // namespace

ExitStatus run_serve(const CommonOptions& common, const ServeOptions& options) {
  start_log(common.verbose);
  const auto interface = common.settings.value("interface");
  const bool page_leads = options.scan == nullptr && options.sweep == nullptr && options.job.empty();
  if (!interface && !page_leads)
    return report(
        Fault{"no interface is named", "--interface", "for example: sumplog serve --interface can0"},
        ExitStatus::wrong);
  if (auto checked = check_live_settings(common.settings); !checked)
    return report(checked.error(), ExitStatus::wrong);
  if (!interface || (options.first_steps && page_leads)) return run_first_steps(common, options, open_can);

  // The bus first: without one there is no job, and no half-written file.
  if (auto wish = port_wish(common.settings); !wish) return report(wish.error(), ExitStatus::wrong);
  boost::asio::io_context loop{1};
  auto port = open_can(loop, common.settings);
  if (!port) {
    const bool unknown =
        !SerialAdapter::names_port(*interface) && interface_state(*interface) == LinkState::gone;
    return report(port.error(), unknown ? ExitStatus::wrong : ExitStatus::failed);
  }
  auto asking = asker_settings(common.settings, (*port)->bus());
  if (!asking) return report(asking.error(), ExitStatus::wrong);
  if (options.scan != nullptr) asking->purpose = PlanPurpose::who;
  if (options.sweep != nullptr) asking = sweep_settings((*port)->bus(), options.sweep->ranges);
  return run_live(common, loop, std::move(*port), options, *asking);
}

}  // namespace sumplog
