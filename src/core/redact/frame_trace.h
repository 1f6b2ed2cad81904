#pragma once
#include <cstddef>
#include <cstdint>
#include <map>
#include <optional>
#include <vector>

#include "core/isotp/addressing.h"
#include "core/isotp/message.h"
#include "core/item/frame.h"
#include "core/j1939/identifier.h"

namespace sumplog {

/// Where one byte of a message lies: in which frame of the recording (counted from 0) and where in its data.
struct BytePlace {
  std::uint64_t frame = 0;
  std::uint8_t at = 0;
};

/// A message, or what came of one, and where its bytes lie.
struct TracedMessage {
  Endpoint from{};
  bool is_request = false;             ///< diagnostic: the tester's
  std::optional<std::uint32_t> group;  ///< J1939
  std::vector<std::uint8_t> payload;
  std::vector<BytePlace> places;  ///< one for each byte of `payload`
  bool orphan = false;            ///< a consecutive frame, or a packet, without a beginning
};

/// Puts messages together like the transports of ISO 15765-2 and SAE J1939-21, but keeps what is broken and remembers where each
/// byte came from. It knows no time: what these transports take for whole is whole here too.
class FrameTrace {
 public:
  explicit FrameTrace(AddressBook book);
  /// Appends what this frame ended: nothing, a message, or a broken one before it.
  void on_frame(std::uint64_t index, const CanFrame& frame, std::vector<TracedMessage>& out);
  /// What is still running.
  void on_end(std::vector<TracedMessage>& out);

 private:
  struct Transfer {
    TracedMessage message;
    std::size_t expected = 0;
    std::size_t frame_length = 0;
    std::uint8_t next = 1;
  };
  struct Session {
    BusName bus{};
    std::uint8_t source = 0;
    std::uint8_t destination = 0;
    friend auto operator<=>(const Session&, const Session&) = default;
  };

  void on_diagnostic(std::uint64_t index, const CanFrame& frame, const Addressing& addressing,
                     std::vector<TracedMessage>& out);
  void on_group_frame(std::uint64_t index, const CanFrame& frame, const J1939Identifier& id,
                      std::vector<TracedMessage>& out);

  AddressBook book_;
  std::map<Endpoint, Transfer> transfers_;
  std::map<Session, Transfer> sessions_;
};

}  // namespace sumplog
