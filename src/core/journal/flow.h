#pragma once
#include <memory>
#include <optional>
#include <vector>

#include "core/diagnostics/exchange.h"
#include "core/isotp/message.h"
#include "core/item/item.h"
#include "core/journal/event.h"
#include "core/journal/pass_by.h"

namespace sumplog {

/// What came out of the core, layer by layer.
struct Output {
  std::vector<Message> messages;
  std::vector<Exchange> exchanges;
  std::vector<Event> events;  ///< the journal
  std::vector<CanFrame>
      replies;  ///< flow control (of J1939: CTS and the like) wanted: the live shell asks the guard, replay drops them
  std::vector<Endpoint> receiving;  ///< units in the middle of an answer of several frames: the asker waits

  void clear() {
    messages.clear();
    exchanges.clear();
    events.clear();
    replies.clear();
    receiving.clear();
  }
};

/// The one way: items in, events out. No clock, socket, file, thread or logger.
/// Core time = max(previous, the item's time). Before an item at t all deadlines ≤ t fire, earliest first,
/// ties in declared order; what they bring is stamped with the deadline.
class Flow {
 public:
  Flow();
  ~Flow();
  Flow(Flow&&) noexcept;

  /// Appends to `out`.
  void on_item(const Item& item, Output& out);
  /// Frames that need not come in. Whoever leaves them out says when the latest of them was heard.
  [[nodiscard]] PassBy pass_by() const;
  void on_passed(TimePoint latest);
  /// When the shell must record an `advance`, at the latest. Nothing: no deadline is set.
  [[nodiscard]] std::optional<TimePoint> deadline() const;
  [[nodiscard]] TimePoint now() const;

 private:
  class Parts;
  std::unique_ptr<Parts> parts_;
};

}  // namespace sumplog
