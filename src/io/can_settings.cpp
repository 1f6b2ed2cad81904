#include "io/can_settings.h"

#include <libsocketcan.h>
#include <linux/capability.h>
#include <sys/syscall.h>
#include <unistd.h>

#include <array>
#include <cmath>
#include <cstdio>
#include <cstring>

#include "io/netlink.h"

namespace sumplog {
namespace {

// linux/can/netlink.h from 5.18 on: IFLA_CAN_CTRLMODE_EXT and what is inside it; older headers lack them.
constexpr unsigned short kExtendedModes = 17;
constexpr unsigned short kSupportedModes = 1;
constexpr double kPerMille = 1000;
constexpr std::uint32_t kSetByHand = 500'000;  // in the line for an administrator, where no rate is known

std::string_view text_of_state(std::uint32_t state) {
  switch (state) {
    case CAN_STATE_ERROR_ACTIVE: return "error-active";
    case CAN_STATE_ERROR_WARNING: return "error-warning";
    case CAN_STATE_ERROR_PASSIVE: return "error-passive";
    case CAN_STATE_BUS_OFF: return "bus-off";
    case CAN_STATE_STOPPED: return "stopped";
    case CAN_STATE_SLEEPING: return "sleeping";
    default: return "";  // the kernel's own number
  }
}

bool has_echo_flag(const std::string& interface) {
  constexpr unsigned kEcho = 1U << 18;  // IFF_ECHO of linux/if.h; the flags of an ioctl have 16 bits only
  FILE* const file = std::fopen(("/sys/class/net/" + interface + "/flags").c_str(), "re");
  if (file == nullptr) return false;
  unsigned flags = 0;
  const bool read = std::fscanf(file, "%x", &flags) == 1;
  (void)std::fclose(file);
  return read && (flags & kEcho) != 0;
}

template <class T>
std::optional<T> content(const rtattr& attribute) {
  T value{};
  if (RTA_PAYLOAD(&attribute) < sizeof value) return std::nullopt;
  std::memcpy(&value, RTA_DATA(&attribute), sizeof value);
  return value;
}

/// One attribute of IFLA_INFO_DATA. src  linux/can/netlink.h
void read_controller(const rtattr& one, LinkDetails& details) {
  switch (one.rta_type & NLA_TYPE_MASK) {
    case IFLA_CAN_BITTIMING:
      if (const auto timing = content<can_bittiming>(one); timing && timing->bitrate != 0) {
        details.bit_rate = timing->bitrate;
        if (timing->sample_point != 0) details.sample_point = timing->sample_point / kPerMille;
      }
      break;
    case IFLA_CAN_CTRLMODE:
      if (const auto mode = content<can_ctrlmode>(one))
        details.listen_only = (mode->flags & CAN_CTRLMODE_LISTENONLY) != 0;
      break;
    case IFLA_CAN_STATE:
      if (const auto state = content<std::uint32_t>(one)) details.state = text_of_state(*state);
      break;
    case IFLA_CAN_BERR_COUNTER:
      if (const auto counter = content<can_berr_counter>(one)) {
        details.send_errors = counter->txerr;
        details.receive_errors = counter->rxerr;
      }
      break;
    case IFLA_CAN_RESTART_MS:
      if (const auto restart = content<std::uint32_t>(one)) details.restarts_itself = *restart != 0;
      break;
    case kExtendedModes:
      for_attributes_of(one, [&](const rtattr& inner) {
        if ((inner.rta_type & NLA_TYPE_MASK) == kSupportedModes)
          details.modes = content<std::uint32_t>(inner);
      });
      break;
    default: break;  // a controller tells more than is needed here
  }
}

Fault no_right(const std::string& interface, std::uint32_t bit_rate) {
  return Fault{"no right to set up this link", interface,
               "an administrator types:  " + setup_line(interface, bit_rate)};
}

Fault cannot_listen(const std::string& interface) {
  return Fault{"this adapter cannot listen without disturbing", interface,
               "name the bit rate: --bitrate 500000"};
}

bool set_mode(const char* interface, std::uint32_t flags, std::uint32_t mask) {
  can_ctrlmode mode{};
  mode.mask = mask;
  mode.flags = flags;
  return can_set_ctrlmode(interface, &mode) == 0;
}

}  // namespace

LinkDetails link_details(const std::string& interface) {
  LinkDetails details;
  details.echo_acknowledges = has_echo_flag(interface);
  const auto message = describe_link(interface);
  if (!message) return details;
  const auto* const header = reinterpret_cast<const nlmsghdr*>(message->data());
  const auto* const info = static_cast<const ifinfomsg*>(NLMSG_DATA(header));
  for_attributes(IFLA_RTA(info), static_cast<int>(IFLA_PAYLOAD(header)), [&](const rtattr& a) {
    if ((a.rta_type & NLA_TYPE_MASK) != IFLA_LINKINFO) return;
    for_attributes_of(a, [&](const rtattr& part) {
      if ((part.rta_type & NLA_TYPE_MASK) == IFLA_INFO_DATA)
        for_attributes_of(part, [&](const rtattr& one) { read_controller(one, details); });
      if (const auto counts = content<can_device_stats>(part); part.rta_type == IFLA_INFO_XSTATS && counts) {
        details.bus_errors = counts->bus_error;
        details.bus_offs = counts->bus_off;
        details.restarts = counts->restarts;
      }
    });
  });
  return details;
}

std::string text_of(const LinkDetails& details) {
  std::string text = details.bit_rate ? std::to_string(*details.bit_rate / 1000) + " kbit/s" : "no bit rate";
  if (details.sample_point) {
    std::array<char, 32> buffer{};
    (void)std::snprintf(buffer.data(), buffer.size(), ", sample point %.1f %%", *details.sample_point * 100);
    text += buffer.data();
  }
  if (details.listen_only) text += ", listen-only";
  if (!details.state.empty()) text += ", " + details.state;
  if (details.send_errors && details.receive_errors)
    text += ", " + std::to_string(*details.send_errors) + " send and " +
            std::to_string(*details.receive_errors) + " receive errors";
  return text;
}

bool may_set_links() {
  __user_cap_header_struct header{_LINUX_CAPABILITY_VERSION_3, 0};
  std::array<__user_cap_data_struct, _LINUX_CAPABILITY_U32S_3> data{};
  if (syscall(SYS_capget, &header, data.data()) != 0) return false;
  return (data[CAP_TO_INDEX(CAP_NET_ADMIN)].effective & CAP_TO_MASK(CAP_NET_ADMIN)) != 0;
}

std::string setup_line(const std::string& interface, std::uint32_t bit_rate) {
  return "ip link set " + interface + " up type can bitrate " +
         std::to_string(bit_rate != 0 ? bit_rate : kSetByHand);
}

Result<void> set_up_link(const std::string& interface, const LinkOrder& order,
                         std::optional<double> sample_point) {
  if (!may_set_links()) return tl::unexpected(no_right(interface, order.bit_rate));
  const char* const name = interface.c_str();
  if (can_do_stop(name) != 0) return fault("the link cannot be taken down", interface);
  // Errors are told one by one where the controller can; one that cannot still changes its state.
  const std::uint32_t modes = link_details(interface).modes.value_or(CAN_CTRLMODE_LISTENONLY);
  if (order.listen_only && (modes & CAN_CTRLMODE_LISTENONLY) == 0)
    return tl::unexpected(cannot_listen(interface));
  const std::uint32_t mask = modes & (CAN_CTRLMODE_LISTENONLY | CAN_CTRLMODE_BERR_REPORTING);
  const std::uint32_t flags = mask & ~(order.listen_only ? 0U : CAN_CTRLMODE_LISTENONLY);
  if (mask != 0 && !set_mode(name, flags, mask)) {
    if (order.listen_only) return tl::unexpected(cannot_listen(interface));
    return fault("the mode of this link cannot be set", interface);
  }
  const int set = sample_point ? can_set_bitrate_samplepoint(
                                     name, order.bit_rate,
                                     static_cast<std::uint32_t>(std::lround(*sample_point * kPerMille)))
                               : can_set_bitrate(name, order.bit_rate);
  if (set != 0)
    return fault("this adapter does not take " + std::to_string(order.bit_rate) + " bit/s", interface,
                 "'ip -details link show " + interface + "' says what it takes");
  if (can_do_start(name) != 0) return fault("the link cannot be taken up", interface);
  return {};
}

Result<void> restart_link(const std::string& interface) {
  if (!may_set_links())
    return tl::unexpected(Fault{
        "no right to restart this link", interface,
        "an administrator types:  ip link set " + interface + " down; ip link set " + interface + " up"});
  if (can_do_stop(interface.c_str()) != 0 || can_do_start(interface.c_str()) != 0)
    return fault("the link cannot be restarted", interface);
  return {};
}

}  // namespace sumplog
