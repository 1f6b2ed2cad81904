#pragma once
#include <boost/asio/io_context.hpp>
#include <functional>
#include <memory>

#include "app/commands.h"
#include "app/live_port.h"

namespace sumplog {

/// Opens the way to the bus that the settings name.
/// err  what is wrong and what to do; it is tried again
using OpenPort = std::function<Result<std::unique_ptr<LivePort>>(boost::asio::io_context& loop,
                                                                 const ProgramSettings& settings)>;

/// From nothing to a running job, over the page: the adapter is found or chosen, the car is looked at with the decoder of the
/// standard alone, a person chooses decoder and window and stands for them; then the job runs. What is already settled is not
/// asked, and a job that was interrupted is gone on with. What the look at the car records is not a job and is not kept.
[[nodiscard]] ExitStatus run_first_steps(const CommonOptions& common, const ServeOptions& options,
                                         const OpenPort& open_port);

}  // namespace sumplog
