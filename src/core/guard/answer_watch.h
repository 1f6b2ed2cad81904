#pragma once
#include <cstddef>
#include <cstdint>
#include <map>
#include <optional>
#include <set>
#include <span>

#include "core/isotp/addressing.h"
#include "core/isotp/message.h"
#include "core/item/time.h"

namespace sumplog {

/// Knows which units are answering a request of ours in several frames (ISO 15765-2), and so may be told to
/// go on. A first frame counts only from a unit that may answer a request whose echo was seen, while that
/// request is open (kAnswerTime, or P2* after the unit's 0x78), with the service id of that request plus 0x40,
/// and once for each unit and request.
/// Exactly one flow control is due for the first frame and for each block that we asked for.
/// src  ISO 15765-2 (flow control, N_Bs, N_Cr), ISO 14229-2 (P2*)
class AnswerWatch {
 public:
  /// The echo of an own request was seen.
  void on_own_request(const Endpoint& request, std::uint8_t service, TimePoint at);
  /// in   body  bytes of a frame of `unit`, after its address byte if it has one
  void on_unit_frame(const AddressBook& book, const Endpoint& unit, std::span<const std::uint8_t> body,
                     TimePoint at);

  /// The unit behind the request endpoint `to` that waits for flow control now.
  [[nodiscard]] std::optional<Endpoint> waiting_at(const AddressBook& book, const Endpoint& to,
                                                   TimePoint now) const;
  /// Flow control "go on" was built.
  /// in   block_size  0: no further flow control will be due
  void on_go_on(const Endpoint& unit, std::uint8_t block_size);
  /// Flow control "too long" was built: the transfer is over.
  void on_overflow(const Endpoint& unit);

 private:
  struct Asked {
    std::uint8_t service = 0;
    TimePoint until{};
    std::map<Endpoint, TimePoint> until_of;  ///< units that said "pending"
    std::set<Endpoint> answered;
  };
  struct Transfer {
    TimePoint last_at{};
    std::uint64_t bytes_left = 0;
    bool due = true;              ///< waits for flow control
    std::uint8_t block_left = 0;  ///< 0: no block size
  };
  [[nodiscard]] Asked* asked_by_us(const AddressBook& book, const Endpoint& unit, std::uint8_t service,
                                   TimePoint at);

  std::map<Endpoint, Asked> asked_;         ///< by request endpoint
  std::map<Endpoint, Transfer> transfers_;  ///< by unit
};

}  // namespace sumplog
