#pragma once
#include <boost/asio/io_context.hpp>
#include <boost/asio/steady_timer.hpp>
#include <deque>
#include <optional>
#include <string>
#include <utility>

#include "app/live_port.h"
#include "core/vehicle/scenario.h"
#include "core/vehicle/vehicle.h"
#include "core/vehicle/virtual_bus.h"

namespace sumplog {

/// The simulated vehicle on a bus in this process, in real time: no CAN in the kernel is needed, and no wire is touched. When
/// its scenario is over the job is.
class SimulatedPort final : public LivePort {
 public:
  SimulatedPort(boost::asio::io_context& loop, Scenario scenario);

  /// A person enters this so long after the scenario has begun. Before begin().
  void enter_at(Duration after, std::string id, std::string name, std::string fields);

  [[nodiscard]] BusName bus() const override { return scenario_.bus; }
  [[nodiscard]] std::optional<std::uint32_t> bit_rate() const override { return std::nullopt; }
  /// The scenario begins now.
  void begin(Owner owner) override;
  void receive(JobTime& time, ReceivedFrames& out) override;
  [[nodiscard]] bool send(const GuardedFrame& frame) override;

 private:
  void go_on();
  void advance(TimePoint now);
  void apply(const TesterChange& change);
  void wait();

  Scenario scenario_;
  boost::asio::steady_timer timer_;
  Owner owner_;
  TimePoint end_{};
  std::optional<Vehicle> vehicle_;
  std::optional<VirtualBus> bus_;
  BusPort plug_;  ///< ours in the vehicle
  std::deque<std::pair<TimePoint, TesterChange>> changes_;
  std::deque<std::pair<Duration, Entry>> entries_;  ///< in the order of their times
  TimePoint start_{};
  bool over_ = false;
};

}  // namespace sumplog
