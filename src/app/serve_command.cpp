#include <boost/asio/io_context.hpp>
#include <optional>

#include "app/can_port.h"
#include "app/commands.h"
#include "app/first_steps.h"
#include "app/live_run.h"
#include "app/port_setting.h"
#include "app/program_log.h"
#include "app/rate_setting.h"

namespace sumplog {
namespace {

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
  if (auto checked = check_live_settings(common.settings, options.job.empty()); !checked)
    return report(checked.error(), ExitStatus::wrong);
  if (!interface || (options.first_steps && page_leads)) return run_first_steps(common, options, open_can);

  // The bus first: without one there is no job, and no half-written file.
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
