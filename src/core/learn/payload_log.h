#pragma once
#include <cstdint>
#include <map>
#include <span>
#include <vector>

#include "core/diagnostics/exchange.h"
#include "core/isotp/addressing.h"
#include "core/item/frame.h"
#include "core/j1939/transport.h"
#include "core/learn/byte_source.h"

namespace sumplog {

/// What one source said in the course of a capture, at most one payload a second.
class PayloadSeries {
 public:
  explicit PayloadSeries(ByteSource source) : source_(source) {}
  /// in   payload  source().length bytes; times never run backwards
  void add(TimePoint at, std::span<const std::uint8_t> payload);

  [[nodiscard]] const ByteSource& source() const { return source_; }
  [[nodiscard]] std::size_t size() const { return times_.size(); }
  [[nodiscard]] TimePoint at(std::size_t index) const { return times_[index]; }
  [[nodiscard]] std::span<const std::uint8_t> payload(std::size_t index) const {
    return {bytes_.data() + index * source_.length, source_.length};
  }
  /// How often the source spoke, kept or not.
  [[nodiscard]] std::uint64_t heard() const { return heard_; }

 private:
  void thin();

  ByteSource source_;
  std::vector<TimePoint> times_;
  std::vector<std::uint8_t> bytes_;
  Duration spacing_{std::chrono::seconds{1}};  // own choice: a fluid changes by a tenth of a degree in it
  std::uint64_t heard_ = 0;
};

/// The payloads of a capture by source: every broadcast frame, every J1939 group of several packets, and every answer to a single data or local identifier.
/// Memory is bounded: at most kMostSources, each with at most 1,024 payloads of at most 64 bytes; a long capture is kept
/// with wider spaces.
class PayloadLog {
 public:
  static constexpr std::size_t kMostSources = 4096;  // own choice: 500 identifiers of eight units
  static constexpr std::size_t kLongest = 64;        // bytes; longer ones find no place

  /// in   book  diagnostic identifiers: their frames are transport, not broadcasts
  explicit PayloadLog(AddressBook book) : book_(std::move(book)) {}
  /// Remote, error and diagnostic frames are nothing. Those of the J1939 transport are parts of a group.
  void on_frame(const CanFrame& frame);
  /// Answers of services 22 and 21 that were asked with one identifier; others are nothing.
  void on_exchange(const Exchange& exchange);

  /// In the order of their sources.
  [[nodiscard]] const std::map<ByteSource, PayloadSeries>& series() const { return series_; }
  /// Payloads that found no place.
  [[nodiscard]] std::uint64_t turned_away() const { return turned_away_; }

 private:
  void on_transport_part(const CanFrame& frame);
  void add(ByteSource source, TimePoint at, std::span<const std::uint8_t> payload);

  AddressBook book_;
  J1939Transport groups_;
  std::map<ByteSource, PayloadSeries> series_;
  std::map<std::pair<BusName, CanId>, PayloadSeries*> by_frame_;  ///< the length that it had last
  std::uint64_t turned_away_ = 0;
};

}  // namespace sumplog
