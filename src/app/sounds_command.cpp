#include <boost/asio/io_context.hpp>
#include <boost/asio/steady_timer.hpp>
#include <iostream>

#include "app/commands.h"
#include "app/cue_outputs.h"
#include "app/program_log.h"

namespace sumplog {
namespace {

struct Sample {
  CueEvent cue;
  const char* meaning;
};

void wait(boost::asio::io_context& loop, std::chrono::milliseconds span) {
  boost::asio::steady_timer timer(loop, span);
  timer.async_wait([&](boost::system::error_code) { loop.stop(); });
  loop.run();
  loop.restart();
}

}  // namespace

ExitStatus run_sounds(const CommonOptions& common) {
  using namespace std::chrono_literals;
  start_log(common.verbose);
  boost::asio::io_context loop{1};
  auto outputs = CueOutputs::open(loop, common.settings);
  if (!outputs) return report(outputs.error(), ExitStatus::wrong);
  const Sample samples[] = {{{{}, "lay_out", "lay everything out now"}, "get ready"},
                            {{{}, "window_starts", "the window starts"}, "now"},
                            {{{}, "window_ended", "the window has ended: plug in"}, "plug in"}};
  for (const Sample& sample : samples) {
    std::cout << sample.meaning << std::endl;
    (*outputs)->on_cue(sample.cue);
    wait(loop, 2500ms);  // the longest lasts two seconds
  }
  while ((*outputs)->busy()) wait(loop, 100ms);
  return ExitStatus::done;
}

}  // namespace sumplog
