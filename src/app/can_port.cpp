#include "app/can_port.h"

#include <algorithm>
#include <utility>

#include "app/program_log.h"
#include "core/item/error_frame.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;

const std::vector<std::uint32_t> kRates{500'000, 250'000};  // ISO 15765-4
constexpr Duration kLookEvery = 20ms;  // ours: how soon "nobody acknowledges" is seen without an error frame
constexpr Duration kListenEvery = 200ms;
constexpr Duration kReturnEvery = 1s;  // ours: how often an adapter that had vanished is tried again
constexpr char kBusOff[] = "bus-off";  // of LinkDetails::state

}  // namespace

CanPort::CanPort(boost::asio::io_context& loop, PortWish wish)
    : loop_(loop), wish_(std::move(wish)), search_timer_(loop), restart_timer_(loop), return_timer_(loop) {}

Result<std::unique_ptr<CanPort>> CanPort::open(boost::asio::io_context& loop, PortWish wish) {
  std::unique_ptr<CanPort> port(new CanPort(loop, std::move(wish)));
  port->interface_ = port->wish_.interface;
  if (SerialAdapter::names_port(port->wish_.interface)) {
    auto serial = SerialAdapter::attach(port->wish_.interface);
    if (!serial) return tl::unexpected(serial.error());
    port->interface_ = serial->interface();
    port->serial_.emplace(std::move(*serial));
  }
  // The watch before the socket: no change between the two is missed.
  auto link = LinkWatch::open(port->interface_);
  if (!link) return tl::unexpected(link.error());
  port->link_.emplace(std::move(*link));
  if (auto ready = port->set_up(); !ready) return tl::unexpected(ready.error());
  port->bus_ = port->socket_->bus();
  return port;
}

/// A link that is up is used as it is; one that is down is set up, or searched.
Result<void> CanPort::set_up() {
  const bool down = interface_state(interface_) == LinkState::down;
  const bool has_rate = interface_kind(interface_).value_or("") == "can";
  if (down && has_rate) {
    if (!rate_ && wish_.bit_rate) rate_ = wish_.bit_rate;
    if (!rate_) search_.emplace(kRates, link_details(interface_).echo_acknowledges, TimePoint{});
    if (auto done = apply(search_ ? search_->order() : LinkOrder{*rate_, false}); !done) return done;
  } else if (has_rate) {
    const LinkDetails details = link_details(interface_);
    rate_ = details.bit_rate;
    // It would stay so: the error frame that tells of bus-off came before we listened.
    if (details.state == kBusOff && !details.restarts_itself) {
      log_warning(interface_ + ": bus-off; taken up again");
      if (auto done = restart_link(interface_); !done) return done;
    }
  }
  if (auto opened = open_socket(); !opened) return opened;
  if (has_rate && !search_) log_info(interface_ + ": " + text_of(link_details(interface_)));
  (void)link_->take();  // our own doing
  return {};
}

Result<void> CanPort::apply(const LinkOrder& order) {
  if (auto done = set_up_link(interface_, order, wish_.sample_point); !done) return done;
  stands_ = order;
  return {};
}

Result<void> CanPort::open_socket() {
  auto socket = CanSocket::open(interface_);
  if (!socket) return tl::unexpected(socket.error());
  socket_.emplace(std::move(*socket));
  return {};
}

void CanPort::begin(Owner owner) {
  owner_ = std::move(owner);
  open_waits();
  link_ready_.emplace(loop_, link_->descriptor(), [this] { on_link(); });
  if (!search_) return;
  owner_.record(LinkEvent{owner_.now(), bus_, LinkState::down});
  search_->on_order_done(owner_.now());
  errors_before_ = errors_counted();
  look_after_search();
}

void CanPort::open_waits() {
  can_ready_.emplace(loop_, socket_->descriptor(), [this] { owner_.frames_wait(); });
}

void CanPort::after(boost::asio::steady_timer& timer, Duration wait, std::function<void()> then) {
  timer.expires_after(std::max(wait, Duration{0}));
  timer.async_wait([then = std::move(then)](boost::system::error_code error) {
    if (!error) then();
  });
}

void CanPort::receive(JobTime& time, ReceivedFrames& out) {
  if (!socket_) return;
  const std::size_t before = out.frames.size();
  const auto ok = socket_->receive(time, out);
  watch_frames({out.frames.begin() + static_cast<std::ptrdiff_t>(before), out.frames.end()});
  if (ok || search_) return;  // the search takes the link down and up
  log_warning(ok.error().text());
  // Down: the socket stays bound and speaks again when the link is up. Gone: a new one is needed.
  if (!interface_kind(interface_)) lose_interface();
}

void CanPort::watch_frames(const std::vector<CanFrame>& frames) {
  for (const CanFrame& frame : frames) {
    if (search_) {
      search_->on_frame(frame);
      continue;
    }
    const auto state = link_state_of(frame);
    if (state == LinkState::up) {
      restart_timer_.cancel();
      restarting_ = false;
    }
    if (state == LinkState::bus_off && !restarting_) {
      if (link_details(interface_).restarts_itself) continue;
      restarting_ = true;
      const TimePoint now = owner_.now();
      const Duration wait = restart_delay_.on_bus_off(now) - now;
      log_warning(interface_ + ": bus-off; taken up again in " + std::to_string(wait / 1s) + " s");
      after(restart_timer_, wait, [this] { restart(false); });
    }
  }
  if (search_ && search_->found()) after(search_timer_, Duration{0}, [this] { look_after_search(); });
}

/// A restart that fails is tried again; meanwhile the link may have become an administrator's, who is not overruled.
void CanPort::restart(bool again) {
  restarting_ = false;
  if (!socket_) return;
  if (again && !half_restarted_ && link_details(interface_).state != kBusOff) return;
  auto done = restart_link(interface_);
  half_restarted_ = !done && interface_state(interface_) == LinkState::down;
  if (done) {
    trouble_said_.clear();
    return;
  }
  say_once(done.error().text());
  restarting_ = true;
  const TimePoint now = owner_.now();
  after(restart_timer_, restart_delay_.on_bus_off(now) - now, [this] { restart(true); });
}

void CanPort::say_once(const std::string& trouble) {
  if (std::exchange(trouble_said_, trouble) != trouble) log_error(trouble);
}

bool CanPort::send(const GuardedFrame& frame) {
  if (!socket_ || search_) return false;
  const auto sent = socket_->send(frame);
  if (!sent) log_debug(sent.error().text());
  return sent.has_value();
}

std::optional<std::uint32_t> CanPort::errors_counted() const {
  const LinkDetails details = link_details(interface_);
  if (!details.bus_errors && !details.send_errors && !details.receive_errors) return std::nullopt;
  return details.bus_errors.value_or(0) + details.send_errors.value_or(0) +
         details.receive_errors.value_or(0);
}

void CanPort::look_after_search() {
  if (!search_ || !socket_) return;
  const TimePoint now = owner_.now();
  if (const auto errors = errors_counted(); errors && errors_before_ && *errors > *errors_before_)
    search_->on_errors_counted();
  while (const auto id = search_->next_request(now)) {
    const auto frame = owner_.ask_who(*id);
    if (frame && !socket_->send(*frame)) search_->on_errors_counted();
  }
  search_->on_time(now);
  if (search_->found()) {
    finish_search();
    return;
  }
  if (search_->order() != stands_) {
    if (auto done = apply(search_->order()); !done) {
      log_error(done.error().text());
      after(search_timer_, kReturnEvery, [this] { look_after_search(); });
      return;
    }
    (void)link_->take();
    owner_.frames_wait();  // what the old rate brought does not count
    search_->on_order_done(owner_.now());
    errors_before_ = errors_counted();
  }
  if (std::string text = search_->state_text(); text != search_said_) {
    log_info(interface_ + ": " + text);
    search_said_ = std::move(text);
  }
  after(search_timer_, search_->order().listen_only ? kListenEvery : kLookEvery,
        [this] { look_after_search(); });
}

void CanPort::finish_search() {
  log_info(interface_ + ": " + search_->state_text());
  const LinkOrder order = search_->order();
  if (order != stands_) {
    if (auto done = apply(order); !done) {
      log_error(done.error().text());
      after(search_timer_, kReturnEvery, [this] { look_after_search(); });
      return;
    }
    (void)link_->take();
  }
  rate_ = order.bit_rate;
  owner_.frames_wait();
  search_.reset();
  owner_.record(LinkEvent{owner_.now(), bus_, LinkState::up});
}

void CanPort::on_link() {
  for (const LinkState state : link_->take()) {
    if (state == LinkState::gone) {
      lose_interface();
      continue;
    }
    if (search_ && socket_) continue;  // our own doing
    if (!socket_) {
      come_back();
      continue;
    }
    owner_.record(LinkEvent{owner_.now(), bus_, state});
  }
}

void CanPort::lose_interface() {
  if (gone_) return;
  gone_ = true;
  can_ready_.reset();
  socket_.reset();
  search_timer_.cancel();
  restart_timer_.cancel();
  restarting_ = false;
  half_restarted_ = false;
  owner_.record(LinkEvent{owner_.now(), bus_, LinkState::gone});
  log_warning(interface_ + ": the adapter is gone; waiting for it");
  if (serial_) {
    serial_.reset();
    after(return_timer_, kReturnEvery, [this] { come_back(); });
  }
}

/// An adapter that was plugged in again: it is down and has forgotten its bit rate.
void CanPort::come_back() {
  if (!gone_) return;
  if (SerialAdapter::names_port(wish_.interface) && !serial_) {
    auto serial = SerialAdapter::attach(wish_.interface);
    if (!serial) {
      log_debug(serial.error().text());
      after(return_timer_, kReturnEvery, [this] { come_back(); });
      return;
    }
    if (serial->interface() != interface_) {
      log_error("the adapter came back as " + serial->interface() + ", not as " + interface_);
      after(return_timer_, kReturnEvery, [this] { come_back(); });
      return;
    }
    serial_.emplace(std::move(*serial));
  }
  search_.reset();
  if (auto ready = set_up(); !ready) {
    say_once(ready.error().text());
    after(return_timer_, kReturnEvery, [this] { come_back(); });
    return;
  }
  gone_ = false;
  trouble_said_.clear();
  open_waits();
  if (search_) {
    search_->on_order_done(owner_.now());
    errors_before_ = errors_counted();
    look_after_search();
  } else {
    owner_.record(LinkEvent{owner_.now(), bus_, LinkState::up});
  }
}

}  // namespace sumplog
