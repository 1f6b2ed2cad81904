#include <unistd.h>

#include <iostream>
#include <optional>
#include <string>
#include <vector>

#include "app/commands.h"
#include "core/asker/sweep_range.h"
#include "core/item/result.h"

namespace sumplog {
namespace {

constexpr double kUsually_s = 900;  // own choice: a quarter of an hour, in which most cars are warm
constexpr char kSentence[] = "the car stands and somebody stays with it";

constexpr char kBefore[] =
    "This asks the control unit for values that nobody has described, up to ten questions a\n"
    "second. Only services that read are used; nothing is written, cleared or started.\n"
    "  - The car stands, selector in P or N, brake set, wheels chocked, plug in.\n"
    "  - The engine may run: hands off belts, fans and hot parts; the room is ventilated.\n"
    "  - Somebody stays with the car. A lamp, a jolt, a changed idle: Ctrl-C, ignition off.\n"
    "It stops by itself when the car moves, a unit falls silent or says that it is busy, or a\n"
    "fault code appears.\n";

Result<std::vector<SweepRange>> ranges_of(const std::vector<std::string>& texts) {
  if (texts.empty())
    return fault("no identifiers are named", "--ask",
                 "for example 7E1:1A00-1AFF: a unit, first and last identifier");
  std::vector<SweepRange> ranges;
  for (const std::string& text : texts) {
    auto range = parse_sweep_range(text);
    if (!range) return tl::unexpected(range.error());
    ranges.push_back(*range);
  }
  return ranges;
}

/// The person types a sentence and a name.
/// err  nobody is there to be asked · another sentence · no name
Result<std::string> agreed_on_the_terminal() {
  if (isatty(STDIN_FILENO) == 0)
    return fault("nobody has agreed to it", "--agreed-by", "name who has, or start it on a terminal");
  std::cerr << kBefore << "To agree, type: " << kSentence << "\n> " << std::flush;
  std::string line;
  if (!std::getline(std::cin, line) || line != kSentence)
    return fault("that is not the sentence; nothing was asked", "", "type it as it stands there");
  std::cerr << "Your name: " << std::flush;
  if (!std::getline(std::cin, line) || line.empty()) return fault("a name is needed; nothing was asked");
  return line;
}

}  // namespace

ExitStatus run_sweep(const CommonOptions& common, const SweepOptions& options, std::string& job_path) {
  if (!common.settings.value("interface"))
    return report(
        Fault{"no interface is named", "--interface", "for example: --interface can0 --ask 7E1:1A00-1AFF"},
        ExitStatus::wrong);
  auto ranges = ranges_of(options.ranges);
  if (!ranges) return report(ranges.error(), ExitStatus::wrong);
  SweepJob sweep;
  sweep.ranges = std::move(*ranges);
  sweep.agreed_by = options.agreed_by;
  if (sweep.agreed_by.empty()) {
    auto by = agreed_on_the_terminal();
    if (!by) return report(by.error(), ExitStatus::wrong);
    sweep.agreed_by = std::move(*by);
  } else {
    std::cerr << kBefore;
  }
  ServeOptions serve;
  serve.job = options.job;
  serve.for_s = options.for_s.value_or(kUsually_s);
  serve.sweep = &sweep;
  const ExitStatus done = run_serve(common, serve);
  job_path = sweep.path;
  if (done != ExitStatus::done) return done;
  return sweep.went_on ? ExitStatus::done : ExitStatus::failed;
}

}  // namespace sumplog
