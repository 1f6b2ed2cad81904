#include <poll.h>

#include <array>
#include <csignal>
#include <iostream>

#include "app/commands.h"
#include "app/job_opening.h"
#include "app/output_file.h"
#include "app/program_log.h"
#include "core/item/item_text.h"
#include "core/vehicle/record_scenario.h"
#include "core/vehicle/vehicle.h"
#include "io/can_socket.h"

namespace sumplog {
namespace {

volatile std::sig_atomic_t stop_asked = 0;
void ask_to_stop(int) {
  stop_asked = 1;
}

ExitStatus write_capture(const Scenario& scenario, const std::string& to) {
  auto file = OutputFile::create(to);
  if (!file) return report(file.error(), ExitStatus::wrong);
  file->write(capture_text(record_scenario(scenario)));
  if (auto finished = file->finish(); !finished) return report(finished.error(), ExitStatus::failed);
  return ExitStatus::done;
}

/// The vehicle in real time on a virtual interface, until the scenario or the person ends it.
ExitStatus drive(Scenario scenario, VehicleSocket socket) {
  auto time = JobTime::start();
  if (!time) return report(time.error(), ExitStatus::failed);
  std::signal(SIGINT, ask_to_stop);
  std::signal(SIGTERM, ask_to_stop);
  scenario.bus = socket.bus();
  const TimePoint start = time->now();
  const TimePoint end = start + scenario.lasts;
  Vehicle vehicle(scenario, start);
  log_info("simulated vehicle on " + std::string(socket.bus().text()) + ": " + scenario.title);
  std::uint64_t unsent = 0;
  while (stop_asked == 0 && time->now() < end) {
    ReceivedFrames received;
    if (auto ok = socket.receive(*time, received); !ok) return report(ok.error(), ExitStatus::failed);
    for (const CanFrame& frame : received.frames) vehicle.on_frame(frame);
    if (const auto due = vehicle.deadline(); due && *due <= time->now()) vehicle.on_deadline(time->now());
    for (const CanFrame& frame : vehicle.take_outbox())
      if (auto sent = socket.send(frame); !sent) {
        if (unsent++ == 0) log_warning(sent.error().text());
      }
    const TimePoint next = std::min(end, vehicle.deadline().value_or(end));
    const Duration wait = std::max(next - time->now(), Duration{0});
    const std::timespec limit{wait.count() / 1000000, wait.count() % 1000000 * 1000};
    pollfd ready{socket.descriptor(), POLLIN, 0};
    (void)ppoll(&ready, 1, &limit, nullptr);
  }
  log_info("requests that do more than read: " + std::to_string(vehicle.forbidden_requests()));
  return vehicle.forbidden_requests() == 0 ? ExitStatus::done : ExitStatus::failed;
}

}  // namespace

ExitStatus run_simulate(const CommonOptions& common, const SimulateOptions& options) {
  start_log(common.verbose);
  if (options.scenario.empty())
    return report(Fault{"no scenario is named", "simulate", "give --scenario FILE, or --hostile SEED"},
                  ExitStatus::wrong);
  auto text = read_text_file(options.scenario);
  if (!text) return report(text.error(), ExitStatus::wrong);
  auto scenario = parse_scenario(*text, options.scenario);
  if (!scenario) return report(scenario.error(), ExitStatus::wrong);
  if (!options.to.empty()) return write_capture(*scenario, options.to);
  const auto interface = common.settings.value("interface");
  if (!interface)
    return report(
        Fault{"neither an interface nor a file is named", "simulate", "give --interface vcan0, or --to FILE"},
        ExitStatus::wrong);
  auto socket = VehicleSocket::open(*interface);
  if (!socket) return report(socket.error(), ExitStatus::wrong);
  return drive(std::move(*scenario), std::move(*socket));
}

}  // namespace sumplog
