#pragma once
#include <boost/asio/io_context.hpp>
#include <boost/asio/steady_timer.hpp>
#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "app/live_port.h"
#include "app/readable.h"
#include "core/asker/bit_rate_search.h"
#include "core/asker/restart_delay.h"
#include "core/item/item.h"
#include "io/can_link.h"
#include "io/can_settings.h"
#include "io/can_socket.h"
#include "io/serial_adapter.h"

namespace sumplog {

/// What was asked for on the command line.
struct PortWish {
  std::string interface;                  ///< or the path of a serial port
  std::optional<std::uint32_t> bit_rate;  ///< nothing: find it, where the link is down
  std::optional<double> sample_point;
};

/// The way to the bus and back to it: attaches a serial adapter, sets up a link that is down (at a given bit
/// rate, or at the one that it finds), restarts it after bus-off, opens it again after it had vanished; what fails is tried
/// again. A link that is up is used as it is, unless it is bus-off. What happens to the link comes out as items.
class CanPort final : public LivePort {
 public:
  /// err  no such port or interface · no right to set it up or, after bus-off, to restart it (with what an administrator must type) · the
  ///      controller does not take the bit rate · this kernel has no CAN
  [[nodiscard]] static Result<std::unique_ptr<CanPort>> open(boost::asio::io_context& loop, PortWish wish);
  CanPort(const CanPort&) = delete;
  CanPort& operator=(const CanPort&) = delete;

  [[nodiscard]] BusName bus() const override { return bus_; }
  [[nodiscard]] std::optional<std::uint32_t> bit_rate() const override { return rate_; }
  void begin(Owner owner) override;
  /// Everything that waits in the kernel. Nothing while there is no interface.
  void receive(JobTime& time, ReceivedFrames& out) override;
  [[nodiscard]] bool send(const GuardedFrame& frame) override;

 private:
  CanPort(boost::asio::io_context& loop, PortWish wish);
  [[nodiscard]] Result<void> set_up();
  [[nodiscard]] Result<void> apply(const LinkOrder& order);
  [[nodiscard]] Result<void> open_socket();
  void open_waits();
  void on_link();
  void lose_interface();
  void come_back();
  void look_after_search();
  void finish_search();
  void watch_frames(const std::vector<CanFrame>& frames);
  void restart(bool again);
  void say_once(const std::string& trouble);
  [[nodiscard]] std::optional<std::uint32_t> errors_counted() const;
  void after(boost::asio::steady_timer& timer, Duration wait, std::function<void()> then);

  boost::asio::io_context& loop_;
  PortWish wish_;
  Owner owner_;
  BusName bus_{};
  std::string interface_;
  std::optional<SerialAdapter> serial_;
  std::optional<LinkWatch> link_;
  std::optional<CanSocket> socket_;
  std::optional<Readable> can_ready_;
  std::optional<Readable> link_ready_;
  std::optional<std::uint32_t> rate_;  ///< of the link, where it is known
  std::optional<BitRateSearch> search_;
  LinkOrder stands_{};                          ///< as ordered last
  std::optional<std::uint32_t> errors_before_;  ///< counted when the order was carried out
  std::string search_said_;
  RestartDelay restart_delay_;
  bool restarting_ = false;
  bool half_restarted_ = false;  ///< taken down by us, and not taken up
  std::string trouble_said_;     ///< what failed last, while it is tried again
  bool gone_ = false;
  boost::asio::steady_timer search_timer_;
  boost::asio::steady_timer restart_timer_;
  boost::asio::steady_timer return_timer_;
};

}  // namespace sumplog
