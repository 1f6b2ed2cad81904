#pragma once
#include <boost/asio/io_context.hpp>
#include <memory>

#include "app/commands.h"
#include "app/live_port.h"
#include "core/asker/asker.h"

namespace sumplog {

/// Settings of a live job that need no bus to be judged.
/// err  with the place of the setting
[[nodiscard]] Result<void> check_live_settings(const ProgramSettings& settings);

/// Runs a job on this port, a new one or the one of `options.job`, with its page. Errors are printed.
[[nodiscard]] ExitStatus run_live(const CommonOptions& common, boost::asio::io_context& loop,
                                  std::unique_ptr<LivePort> port, const ServeOptions& options,
                                  const AskerSettings& asking);

}  // namespace sumplog
