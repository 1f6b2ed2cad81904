#include "io/can_socket.h"

#include <linux/can.h>
#include <linux/can/error.h>
#include <linux/can/raw.h>
#include <linux/sock_diag.h>
#include <net/if.h>
#include <sys/ioctl.h>
#include <sys/socket.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstring>

#include "io/can_link.h"

namespace sumplog {
namespace {

constexpr int kReceiveBuffer = 4 << 20;  // bytes; some seconds of a full bus while the disk is slow
constexpr std::size_t kBatch = 64;       // frames in one recvmmsg

std::string reason(int error) {
  return std::strerror(error);
}

CanFrame from_kernel_frame(const canfd_frame& raw, std::size_t size, BusName bus) {
  CanFrame frame;
  frame.bus = bus;
  frame.fd = size == CANFD_MTU;
  frame.id.extended = (raw.can_id & CAN_EFF_FLAG) != 0;
  if ((raw.can_id & CAN_ERR_FLAG) != 0) {
    frame.kind = FrameKind::error;
    frame.id = extended_id(raw.can_id & CAN_ERR_MASK);
  } else {
    if ((raw.can_id & CAN_RTR_FLAG) != 0) frame.kind = FrameKind::remote;
    frame.id.value = raw.can_id & (frame.id.extended ? CAN_EFF_MASK : CAN_SFF_MASK);
  }
  if (frame.fd) {
    frame.bit_rate_switch = (raw.flags & CANFD_BRS) != 0;
    frame.error_state = (raw.flags & CANFD_ESI) != 0;
  }
  const std::size_t longest = frame.fd ? CANFD_MAX_DLEN : CAN_MAX_DLEN;
  frame.set_data({raw.data, std::min<std::size_t>(raw.len, longest)});
  return frame;
}

}  // namespace

Result<CanSocket> CanSocket::open(const std::string& interface) {
  if (interface.empty() || interface.size() > BusName::kMaxLength)
    return fault("not the name of an interface", "--interface " + interface,
                 "names have 1 to 15 characters: can0");
  CanSocket out;
  out.interface_ = interface;
  out.bus_ = BusName{interface};
  out.socket_ = FileDescriptor(::socket(PF_CAN, SOCK_RAW | SOCK_NONBLOCK | SOCK_CLOEXEC, CAN_RAW));
  if (out.socket_.get() < 0) {
    if (errno == EAFNOSUPPORT || errno == EPROTONOSUPPORT)
      return fault("this kernel has no CAN", interface,
                   "load it as root: modprobe can-raw; or try 'sumplog demo'");
    if (errno == EPERM || errno == EACCES)
      return fault("no permission to open a CAN socket", interface, "run as root, or ask the administrator");
    return fault("no CAN socket: " + reason(errno), interface);
  }
  const int fd = out.socket_.get();
  const unsigned index = if_nametoindex(interface.c_str());
  if (index == 0)
    return fault("no such interface", interface, "'ip link show type can' lists those that there are");
  const int on = 1;
  const can_err_mask_t all_errors = CAN_ERR_MASK;
  const int buffer = kReceiveBuffer;
  if (setsockopt(fd, SOL_CAN_RAW, CAN_RAW_FD_FRAMES, &on, sizeof on) != 0 ||
      setsockopt(fd, SOL_CAN_RAW, CAN_RAW_RECV_OWN_MSGS, &on, sizeof on) != 0 ||
      setsockopt(fd, SOL_CAN_RAW, CAN_RAW_ERR_FILTER, &all_errors, sizeof all_errors) != 0 ||
      setsockopt(fd, SOL_SOCKET, SO_RXQ_OVFL, &on, sizeof on) != 0 ||
      setsockopt(fd, SOL_SOCKET, SO_TIMESTAMPNS, &on, sizeof on) != 0)
    return fault("the CAN socket lacks an option: " + reason(errno), interface,
                 "a kernel from 4.x on has all of them");
  // Beyond the system's limit only with the right for it; less is no failure, drops are counted.
  if (setsockopt(fd, SOL_SOCKET, SO_RCVBUFFORCE, &buffer, sizeof buffer) != 0)
    (void)setsockopt(fd, SOL_SOCKET, SO_RCVBUF, &buffer, sizeof buffer);
  sockaddr_can address{};
  address.can_family = AF_CAN;
  address.can_ifindex = static_cast<int>(index);
  if (bind(fd, reinterpret_cast<const sockaddr*>(&address), sizeof address) != 0) {
    if (errno == ENODEV)
      return fault("this is not a CAN interface", interface,
                   "'ip link show type can' lists those that there are");
    return fault("cannot listen: " + reason(errno), interface);
  }
  ifreq request{};
  std::memcpy(request.ifr_name, interface.c_str(), interface.size());
  if (ioctl(fd, SIOCGIFFLAGS, &request) == 0 && (request.ifr_flags & IFF_UP) == 0) {
    // Only a controller of the kind "can" has a bit rate.
    const bool has_rate = interface_kind(interface).value_or("can") == "can";
    return fault("the interface is down", interface,
                 "as root: ip link set " + interface + " up" +
                     (has_rate ? " type can bitrate 500000 (or the vehicle's rate)" : ""));
  }
  return out;
}

std::uint64_t CanSocket::dropped_since(std::uint32_t total) {
  // The kernel's counter wraps; a frame that waited tells an older total than the one known already.
  const auto more = static_cast<std::int32_t>(total - dropped_before_);
  if (more <= 0) return 0;
  dropped_before_ = total;
  return static_cast<std::uint64_t>(more);
}

// A frame that is received tells of drops before it (SO_RXQ_OVFL). Of drops after the last frame only this tells.
std::uint32_t CanSocket::total_drops() const {
  std::array<std::uint32_t, SK_MEMINFO_VARS> memory{};
  socklen_t size = sizeof memory;
  if (getsockopt(socket_.get(), SOL_SOCKET, SO_MEMINFO, memory.data(), &size) != 0 || size < sizeof memory)
    return dropped_before_;  // a kernel before 4.12: the next frame will tell
  return memory[SK_MEMINFO_DROPS];
}

Result<void> CanSocket::receive(JobTime& time, ReceivedFrames& out) {
  std::array<canfd_frame, kBatch> frames{};
  std::array<iovec, kBatch> parts{};
  std::array<std::array<char, CMSG_SPACE(sizeof(std::timespec)) + CMSG_SPACE(sizeof(std::uint32_t))>, kBatch>
      control{};
  std::array<mmsghdr, kBatch> messages{};
  while (true) {
    for (std::size_t i = 0; i < kBatch; ++i) {
      parts[i] = {&frames[i], sizeof frames[i]};
      messages[i].msg_hdr = {};
      messages[i].msg_hdr.msg_iov = &parts[i];
      messages[i].msg_hdr.msg_iovlen = 1;
      messages[i].msg_hdr.msg_control = control[i].data();
      messages[i].msg_hdr.msg_controllen = control[i].size();
    }
    const TimePoint asked_at = time.now();
    const int n = recvmmsg(socket_.get(), messages.data(), kBatch, MSG_DONTWAIT, nullptr);
    if (n < 0) {
      if (errno == EINTR) continue;
      if (errno == EAGAIN || errno == EWOULDBLOCK) {
        earliest_ = std::max(earliest_, asked_at);
        out.dropped += dropped_since(total_drops());
        return {};
      }
      return fault("cannot receive: " + reason(errno), interface_);
    }
    time.sample();
    const TimePoint latest = time.now();
    for (std::size_t i = 0; i < static_cast<std::size_t>(n); ++i) {
      CanFrame frame = from_kernel_frame(frames[i], messages[i].msg_len, bus_);
      frame.at = latest;
      for (cmsghdr* c = CMSG_FIRSTHDR(&messages[i].msg_hdr); c != nullptr;
           c = CMSG_NXTHDR(&messages[i].msg_hdr, c)) {
        if (c->cmsg_level != SOL_SOCKET) continue;
        if (c->cmsg_type == SCM_TIMESTAMPNS) {
          std::timespec stamp{};
          std::memcpy(&stamp, CMSG_DATA(c), sizeof stamp);
          frame.at = std::clamp(time.from_kernel(stamp), std::min(earliest_, latest), latest);
        } else if (c->cmsg_type == SO_RXQ_OVFL) {
          std::uint32_t total = 0;
          std::memcpy(&total, CMSG_DATA(c), sizeof total);
          out.dropped += dropped_since(total);
        }
      }
      earliest_ = frame.at;  // one interface stamps in order; two samples of the clocks differ a little
      out.frames.push_back(frame);
    }
    if (static_cast<std::size_t>(n) < kBatch) {
      earliest_ = std::max(earliest_, asked_at);
      out.dropped += dropped_since(total_drops());
      return {};
    }
  }
}

Result<void> CanSocket::send(const GuardedFrame& frame) {
  return send_frame(frame.frame());
}

Result<void> CanSocket::send_frame(const CanFrame& frame) {
  canfd_frame raw{};
  raw.can_id = frame.id.value | (frame.id.extended ? CAN_EFF_FLAG : 0U) |
               (frame.kind == FrameKind::remote ? CAN_RTR_FLAG : 0U);
  raw.len = frame.length;
  raw.flags = static_cast<std::uint8_t>((frame.bit_rate_switch ? CANFD_BRS : 0) |
                                        (frame.error_state ? CANFD_ESI : 0));
  std::memcpy(raw.data, frame.bytes.data(), frame.length);
  const std::size_t size = frame.fd ? CANFD_MTU : CAN_MTU;
  const auto n = ::send(socket_.get(), &raw, size, MSG_DONTWAIT);
  if (n == static_cast<ssize_t>(size)) return {};
  return fault("cannot send: " + (n < 0 ? reason(errno) : std::string("cut short")), interface_);
}

Result<VehicleSocket> VehicleSocket::open(const std::string& interface) {
  const auto kind = interface_kind(interface);
  if (!kind) return tl::unexpected(kind.error());
  if (*kind != "vcan" && *kind != "vxcan")
    return fault("the simulated vehicle speaks on virtual interfaces only, and this one is " +
                     (kind->empty() ? std::string("not virtual") : "of the kind " + *kind),
                 interface, "as root: ip link add vcan0 type vcan && ip link set vcan0 up");
  auto socket = CanSocket::open(interface);
  if (!socket) return tl::unexpected(socket.error());
  const int off = 0;  // the vehicle has no use for its own echo
  (void)setsockopt(socket->descriptor(), SOL_CAN_RAW, CAN_RAW_RECV_OWN_MSGS, &off, sizeof off);
  return VehicleSocket(std::move(*socket));
}

}  // namespace sumplog
