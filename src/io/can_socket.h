#pragma once
#include <cstdint>
#include <string>
#include <vector>

#include "core/guard/guard.h"
#include "core/item/frame.h"
#include "core/item/result.h"
#include "io/file_descriptor.h"
#include "io/job_time.h"

namespace sumplog {

// The only place with AF_CAN descriptors. A tester's socket sends what the guard has built and nothing else; the vehicle's
// sends anything, and opens only virtual interfaces.

/// What came in since the last call.
struct ReceivedFrames {
  std::vector<CanFrame> frames;  ///< with the kernel's time stamps, in job time
  std::uint64_t dropped = 0;     ///< frames that the kernel could not deliver (SO_RXQ_OVFL)
};

/// A raw CAN socket on one interface: FD frames, error frames and the echo of its own frames are heard.
class CanSocket {
 public:
  /// err  no such interface · it is down · this kernel has no CAN · no permission; each with the way out
  [[nodiscard]] static Result<CanSocket> open(const std::string& interface);

  [[nodiscard]] int descriptor() const { return socket_.get(); }
  [[nodiscard]] BusName bus() const { return bus_; }
  /// Appends everything that waits in the kernel, without blocking. Times lie between the last call and now,
  /// also when somebody set the wall clock meanwhile: call it once when the socket was opened.
  /// err  the interface is down or gone: ENETDOWN, ENODEV. Frames read before it are in `out`.
  [[nodiscard]] Result<void> receive(JobTime& time, ReceivedFrames& out);
  /// err  the send queue is full, the interface is down or gone
  [[nodiscard]] Result<void> send(const GuardedFrame& frame);

 private:
  friend class VehicleSocket;
  CanSocket() = default;
  [[nodiscard]] Result<void> send_frame(const CanFrame& frame);
  [[nodiscard]] std::uint64_t dropped_since(std::uint32_t total);
  [[nodiscard]] std::uint32_t total_drops() const;

  FileDescriptor socket_;
  std::string interface_;
  BusName bus_{};
  std::uint32_t dropped_before_ = 0;
  TimePoint earliest_ = TimePoint::min();  ///< no frame that is still to be read came before
};

/// The socket of the simulated vehicle. It opens interfaces of the kinds vcan and vxcan only, without override: a simulated
/// answer never reaches a real vehicle.
class VehicleSocket {
 public:
  /// err  as CanSocket · the interface is not virtual
  [[nodiscard]] static Result<VehicleSocket> open(const std::string& interface);

  [[nodiscard]] int descriptor() const { return socket_.descriptor(); }
  [[nodiscard]] BusName bus() const { return socket_.bus(); }
  [[nodiscard]] Result<void> receive(JobTime& time, ReceivedFrames& out) {
    return socket_.receive(time, out);
  }
  [[nodiscard]] Result<void> send(const CanFrame& frame) { return socket_.send_frame(frame); }

 private:
  explicit VehicleSocket(CanSocket socket) : socket_(std::move(socket)) {}
  CanSocket socket_;
};

}  // namespace sumplog
