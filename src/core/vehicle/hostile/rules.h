#pragma once
#include <optional>
#include <string>
#include <vector>

#include "core/diagnostics/exchange.h"
#include "core/vehicle/hostile/job.h"
#include "core/vehicle/hostile/plan.h"

namespace sumplog::hostile {

// What must hold after a hostile job, whatever the bus did. The judge reads frames with its own ear (ear.h) and
// the journal as text; it asks neither the transport, the pairing, the decoders nor the watch that it judges.
//
// no invented reading
//   Every `reading` line with a value, at its time, is what a whole message of its unit, heard at that time, says
//   by the standard's or the demo family's encoding; and a request for just that was open. In a plan that is not
//   lying, that very message was also put on the wire by somebody, at most kLongestWay before. In a lying plan
//   (bytes changed on the way: a real controller drops such frames by their check sum) the first half holds alone.
// no `inside` without a fresh valid reading
//   While `inside` stands (window and thermal lines), the newest reading of the source is inside the window itself,
//   has a value, is at most three seconds old, and no link trouble or restart came after it. While `may start`
//   stands, the same holds for engine speed (idle), vehicle speed (0) and selector (P). A temperature is
//   said only with a live reading. What ends by time is said in time.
// no frame outside the guard's list
//   Every frame that left: a classic data frame of eight bytes; a single frame of a reading service with its length,
//   padded with CC, on a listed identifier, or flow control for a first frame that answers a request of
//   ours. None while the link is away, no request within five seconds of another tester, at most 2 % of the bus.
// every loss accounted
//   Each request heard has exactly one ending for each unit (none yet at the end of the job, when it is young); a
//   silent one is a loss line. Each frame on a diagnostic identifier is part of a whole message, flow control, or
//   counted in one loss line of its unit. Each whole answer is an ending, "pending", or a loss line.
//   What the kernel dropped is a loss line.
// the same journal
//   The job's text, read as a job file, gives the journal of the live job, line by line.
// the job goes on
//   Where there is calm at the end, the fluid temperature is read again within it.

struct Finding {
  std::string rule;
  TimePoint at{};
  std::string what;
};

/// The longest that a frame may be on its way to us.
inline constexpr Duration kLongestWay = kMostLate + kMostStall + std::chrono::milliseconds{100};

/// What the job's text gives when it is read again.
struct Replayed {
  std::vector<std::string> journal;
  std::vector<Exchange> exchanges;
};
/// in  text  the lines of a whole job file
[[nodiscard]] Replayed replay(const std::string& text);

// Each gives the first thing that is broken.
[[nodiscard]] std::optional<Finding> judge_replay(const Trace& trace, const Replayed& replayed);
[[nodiscard]] std::optional<Finding> judge_sent(const Plan& plan, const Trace& trace);
[[nodiscard]] std::optional<Finding> judge_readings(const Plan& plan, const Trace& trace);
[[nodiscard]] std::optional<Finding> judge_window(const Plan& plan, const Trace& trace);
[[nodiscard]] std::optional<Finding> judge_losses(const Trace& trace, const Replayed& replayed);
[[nodiscard]] std::optional<Finding> judge_calm(const Plan& plan, const Trace& trace);

/// All of them, in this order.
[[nodiscard]] std::optional<Finding> judge(const Plan& plan, const Trace& trace, const Replayed& replayed);

/// The minimal report: the plan, the rule, the moment, and the last lines of journal and job file before it.
[[nodiscard]] std::string report_of(const Plan& plan, const Trace& trace, const Finding& finding);

}  // namespace sumplog::hostile
