#pragma once
#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "core/item/frame.h"
#include "core/item/item.h"
#include "core/item/time.h"

namespace sumplog::hostile {

// The judge's own reading of ISO 15765: it shares no line with the transport that it judges, but for the bytes of
// the standard. Named identifiers of decoders are not known here: a hostile job uses those of ISO 15765-4 alone.

enum class Way : std::uint8_t { none, to_all, to_unit, from_unit };

/// src  ISO 15765-4 (7DF, 7E0…7EF, 18DBxxF1, 18DAxxF1, 18DAF1xx), ISO 15765-2 (18CD, 18CE: mixed addressing)
[[nodiscard]] Way way_of(CanId id);
[[nodiscard]] bool has_address_byte(CanId id);
/// Whether the unit behind `response` may answer a request on `request`.
[[nodiscard]] bool may_answer(CanId request, CanId response);
/// "7E9", "18DAF118", "18CEF133/5A"
[[nodiscard]] std::string unit_text(CanId id, std::optional<std::uint8_t> address);

/// A whole message, as the ear heard it.
struct Heard {
  TimePoint at{};        ///< of the last frame
  TimePoint first_at{};  ///< of the first frame
  CanId id{};
  std::optional<std::uint8_t> address;
  Way way = Way::none;
  std::vector<std::uint8_t> payload;

  [[nodiscard]] bool is_pending() const {
    return payload.size() >= 3 && payload[0] == 0x7F && payload[2] == 0x78;  // ISO 14229-1
  }
};

/// Frames in, whole messages out, and every frame that became part of none is counted.
class Ear {
 public:
  enum class Trust : std::uint8_t {
    one_sender,       ///< what a receiver must do: whatever begins ends what was running
    several_senders,  ///< what was truly sent: a single frame, or a giant one, of somebody else ends nothing
  };
  explicit Ear(Trust trust = Trust::one_sender) : trust_(trust) {}

  /// in   at  core time of the frame
  [[nodiscard]] std::optional<Heard> on_frame(const CanFrame& frame, TimePoint at);

  struct Count {
    std::uint64_t frames = 0;   ///< data frames on a diagnostic identifier
    std::uint64_t whole = 0;    ///< of them in whole messages
    std::uint64_t control = 0;  ///< flow control that can be read
    std::uint64_t running = 0;  ///< of a transfer that is not over
    /// Those that belong to nothing.
    [[nodiscard]] std::uint64_t lost() const { return frames - whole - control - running; }
  };
  /// By unit_text.
  [[nodiscard]] const std::map<std::string, Count>& counts() const { return counts_; }

 private:
  struct Running {
    TimePoint first_at{};
    TimePoint until{};
    std::size_t expected = 0;
    std::size_t frame_length = 0;
    std::uint8_t next = 1;
    std::uint64_t frames = 0;
    std::vector<std::uint8_t> payload;
  };
  using Key = std::pair<CanId, std::optional<std::uint8_t>>;

  Trust trust_;
  std::map<Key, Running> running_;
  std::map<std::string, Count> counts_;
};

/// Core time of every item: never backwards.
[[nodiscard]] std::vector<TimePoint> core_times(const std::vector<Item>& items);

}  // namespace sumplog::hostile
