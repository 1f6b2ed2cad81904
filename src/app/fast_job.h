#pragma once
#include <functional>
#include <string>
#include <vector>

#include "app/journal_printer.h"
#include "core/item/item.h"
#include "core/item/result.h"
#include "core/vehicle/simulated_job.h"

namespace sumplog {

/// Called after each step of the job; appends what it brings to the events. out  false: the job ends here
using BetweenSteps = std::function<Result<bool>(SimulatedJob& job, std::vector<Event>& events)>;

/// Plays the scenario's live job in fast time into a new job file, and prints its journal. The recorder writes in this thread, and
/// no clock is asked.
/// in   opening  the items that open the job
///      between  may be empty
/// err  the name is taken · the disk · what `between` says
[[nodiscard]] Result<void> play_fast_job(const Scenario& scenario, TimePoint start,
                                         const std::vector<Item>& opening, const std::string& path,
                                         JournalPrinter& printer, const BetweenSteps& between = {});

}  // namespace sumplog
