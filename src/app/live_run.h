#pragma once
#include <boost/asio/io_context.hpp>
#include <memory>

#include "app/commands.h"
#include "app/live_port.h"
#include "core/asker/asker.h"

namespace sumplog {

/// Every setting of a live job; none of them needs a bus to be judged.
/// in   new_job  false: the decoders and what shapes the outputs stand in the job file that is gone on with
/// err  with the place of the setting
[[nodiscard]] Result<void> check_live_settings(const ProgramSettings& settings, bool new_job);

/// Runs a job on this port, a new one or the one of `options.job`, with its page. Errors are printed.
[[nodiscard]] ExitStatus run_live(const CommonOptions& common, boost::asio::io_context& loop,
                                  std::unique_ptr<LivePort> port, const ServeOptions& options,
                                  const AskerSettings& asking);

}  // namespace sumplog
