#pragma once
#include <CLI/CLI.hpp>

#include "app/commands.h"

namespace sumplog {

/// What a command that sweeps is told on the command line, beside the settings of a live job.
inline void add_sweep_options(CLI::App& command, SweepOptions& sweep) {
  command
      .add_option("--ask", sweep.ranges,
                  "identifiers to ask for, UNIT:FIRST-LAST: 7E1:1A00-1AFF, 7E1:00-FF; may be given again")
      ->allow_extra_args(false);
  command.add_option("--job", sweep.job, "go on with this job: its file, or the beginning of its id");
  command.add_option("--for", sweep.for_s, "stop after so many seconds; 900 unless given")
      ->check(CLI::PositiveNumber);
  command.add_option("--agreed-by", sweep.agreed_by, "who has agreed to it; otherwise it is asked for here");
}

}  // namespace sumplog
