#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "core/item/frame.h"
#include "core/item/time.h"

namespace sumplog {

/// How the link is to stand.
struct LinkOrder {
  std::uint32_t bit_rate = 0;
  bool listen_only = true;
  friend bool operator==(const LinkOrder&, const LinkOrder&) = default;
};

/// Finds the bit rate of a bus that nobody has told, without disturbing whoever talks on it: listens at each
/// rate first, and asks only where nothing at all was heard at any. The first sign that nobody acknowledges
/// ends the asking at that rate. Pure: the shell sets the link and brings what came of it.
/// src  ISO 15765-4 (500 and 250 kbit/s; 01 00 with 11-bit, then with 29-bit identifiers); times: own choice
class BitRateSearch {
 public:
  /// in   rates                what to try, in this order; at least one
  ///      echo_acknowledges    an own frame comes back only after some node has acknowledged it
  BitRateSearch(std::vector<std::uint32_t> rates, bool echo_acknowledges, TimePoint start);

  /// How the link is to stand now. After a change nothing goes on until on_order_done().
  [[nodiscard]] LinkOrder order() const;
  void on_order_done(TimePoint now);

  /// Every frame that came since then, error frames and own ones too.
  void on_frame(const CanFrame& frame);
  /// The controller says that it counts errors: for adapters that send no error frames.
  void on_errors_counted();
  void on_time(TimePoint now);

  /// Identifier on which 01 00 is to be asked now; call until there is none.
  [[nodiscard]] std::optional<CanId> next_request(TimePoint now);

  [[nodiscard]] std::optional<std::uint32_t> found() const { return found_; }
  /// What a person should know while it is not found.
  [[nodiscard]] std::string state_text() const;

 private:
  enum class Step : std::uint8_t { listen, ask };
  void heard();
  void troubled();
  void go_on(TimePoint now);
  void begin(Step step, std::size_t rate, TimePoint now);
  [[nodiscard]] std::string rates_text() const;

  std::vector<std::uint32_t> rates_;
  bool echo_acknowledges_;
  Step step_ = Step::listen;
  std::size_t rate_ = 0;
  bool ordered_ = true;  ///< an order is waiting to be carried out
  TimePoint until_{};    ///< end of this step, or of this request
  int requests_ = 0;     ///< of this asking
  bool request_due_ = false;
  bool acknowledged_ = false;
  int frames_ = 0;  ///< of others, in this step
  bool step_troubled_ = false;
  bool round_troubled_ = false;
  bool heard_elsewhere_ = false;       ///< somebody talks at another rate
  std::optional<TimePoint> asked_at_;  ///< when the last asking at all rates ended
  std::optional<std::uint32_t> found_;
};

}  // namespace sumplog
