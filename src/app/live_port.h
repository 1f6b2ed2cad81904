#pragma once
#include <cstdint>
#include <functional>
#include <optional>

#include "core/guard/guard.h"
#include "core/item/item.h"
#include "io/can_socket.h"
#include "io/job_time.h"

namespace sumplog {

/// The way to a bus, for a job that runs live: a CAN interface, or the simulated vehicle in this process.
class LivePort {
 public:
  /// Whom it works for.
  struct Owner {
    std::function<TimePoint()> now;
    std::function<void()> frames_wait;                          ///< call receive()
    std::function<void(Item)> record;                           ///< link events and the like
    std::function<std::optional<GuardedFrame>(CanId)> ask_who;  ///< 01 00 to all units on this identifier
    std::function<void()> over;                                 ///< nothing more will come: close the job
  };

  LivePort() = default;
  LivePort(const LivePort&) = delete;
  LivePort& operator=(const LivePort&) = delete;
  virtual ~LivePort() = default;

  [[nodiscard]] virtual BusName bus() const = 0;
  /// Of the link, where it is known.
  [[nodiscard]] virtual std::optional<std::uint32_t> bit_rate() const = 0;
  virtual void begin(Owner owner) = 0;
  /// Appends everything that has come in.
  virtual void receive(JobTime& time, ReceivedFrames& out) = 0;
  /// False: it was not sent, and no echo will come.
  [[nodiscard]] virtual bool send(const GuardedFrame& frame) = 0;
};

}  // namespace sumplog
