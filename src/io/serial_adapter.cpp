#include "io/serial_adapter.h"

#include <fcntl.h>
#include <linux/tty.h>
#include <net/if.h>
#include <sys/ioctl.h>
#include <sys/socket.h>
#include <termios.h>

#include <array>
#include <cerrno>
#include <cstring>

namespace sumplog {
namespace {

constexpr speed_t kSpeed = B115200;  // a USB adapter does not care; a real serial one starts so

std::string attach_line(const std::string& port) {
  return "slcan_attach -w -n can0 " + port + "   and then: sumplog serve --interface can0";
}

}  // namespace

bool SerialAdapter::names_port(const std::string& interface) {
  return interface.starts_with("/dev/");
}

Result<SerialAdapter> SerialAdapter::attach(const std::string& port) {
  SerialAdapter adapter;
  adapter.port_ = FileDescriptor(::open(port.c_str(), O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC));
  const int fd = adapter.port_.get();
  if (fd < 0) {
    const std::string why = std::strerror(errno);
    return fault("the serial port cannot be opened: " + why, port,
                 errno == EACCES ? "run as root, or join the group that owns the port" : "is it plugged in?");
  }
  termios settings{};
  if (tcgetattr(fd, &settings) != 0) return fault("this is not a serial port", port);
  cfmakeraw(&settings);
  settings.c_cflag |= CLOCAL | CREAD;
  (void)cfsetspeed(&settings, kSpeed);
  if (tcsetattr(fd, TCSANOW, &settings) != 0)
    return fault(std::string("the serial port cannot be set: ") + std::strerror(errno), port);
  const int discipline = N_SLCAN;
  if (ioctl(fd, TIOCSETD, &discipline) != 0) {
    if (errno == EPERM)
      return fault("no right to attach a serial adapter", port,
                   "an administrator types:  " + attach_line(port));
    if (errno == EINVAL)
      return fault("this kernel has no driver for serial CAN adapters", port,
                   "load it as root: modprobe slcan");
    return fault(std::string("the serial port cannot be attached: ") + std::strerror(errno), port);
  }
  std::array<char, IFNAMSIZ> name{};
  if (ioctl(fd, SIOCGIFNAME, name.data()) != 0)
    return fault(std::string("the attached adapter has no interface: ") + std::strerror(errno), port);
  adapter.interface_ = std::string(name.data(), strnlen(name.data(), name.size()));
  return adapter;
}

}  // namespace sumplog
