#pragma once

namespace sumplog {

/// What the program tells its caller.
enum class ExitStatus : int {
  done = 0,
  failed = 1,  ///< the work failed: bus gone, vehicle silent, conditions not kept where that was asked
  wrong = 2,   ///< the call or an input file is wrong
};

}  // namespace sumplog
