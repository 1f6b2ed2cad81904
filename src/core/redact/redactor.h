#pragma once
#include <cstdint>
#include <map>
#include <optional>
#include <set>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "core/item/item.h"
#include "core/item/result.h"
#include "core/job/job_settings.h"
#include "core/redact/entry_redaction.h"
#include "core/redact/frame_trace.h"
#include "core/redact/identifying_bytes.h"
#include "core/redact/vin_fillers.h"

namespace sumplog {

/// What was taken out of a job.
struct RedactionCount {
  std::uint64_t frames = 0;   ///< in which bytes were covered
  std::uint64_t photos = 0;   ///< entries left out
  std::uint64_t entries = 0;  ///< that carry less than before
  std::uint64_t vins = 0;     ///< different ones, read or typed
};

/// Makes a copy of a job that names neither vehicle nor customer nor workshop, and still replays: the same frames at the same
/// times, readings, codes and verdict as before. It reads the job three times, item by item: learn() all of it, search() all of
/// it, then redacted(). Memory is bounded by what is covered.
///   VINs and serial numbers in frames      fillers of the same length (identifying_bytes.h); a piece of a known VIN of four
///                                          characters or more (six digits) anywhere in a frame as well
///   entries                                EntryRedaction
///   settings                               a new job id, and `redacted`
///   decoder texts                          plate, VIN and whole names are covered where they stand in them
///   fragments (`torn`)                     left out with their item
/// Times, fluid, parts, odometer, time zone and fault codes stay. src  docs/job_file.md
class Redactor {
 public:
  /// in   new_job  random id, 32 hex digits
  explicit Redactor(std::string new_job) : job_(std::move(new_job)) {}

  void learn(const Item& item);
  /// Between the first and the second reading. err  the file does not begin with settings
  [[nodiscard]] Result<void> learned();
  void search(const Item& item);
  /// Between the second and the third reading.
  void searched();
  /// out  nothing: the item is left out
  [[nodiscard]] std::optional<Item> redacted(const Item& item);
  /// After the third reading.
  /// err  a decoder text could not be used any more with its secrets covered, with its name
  [[nodiscard]] Result<void> finished() const;

  [[nodiscard]] const RedactionCount& count() const { return count_; }

 private:
  void learn_message(const TracedMessage& message);
  void cover(const TracedMessage& message, const IdentifyingRange& range);
  void cover_orphan(const TracedMessage& message);
  /// Covers runs of at least `shortest` characters of a known VIN. out  whether there were any
  bool cover_vin_pieces(std::span<const std::uint8_t> bytes, std::span<const BytePlace> places,
                        std::size_t shortest);
  void put(const BytePlace& place, std::uint8_t before, char after);
  [[nodiscard]] CanFrame redacted_frame(CanFrame frame);
  [[nodiscard]] bool is_transport(const CanFrame& frame) const;
  void begin_trace();

  std::string job_;
  bool begins_with_settings_ = false;
  bool first_ = true;
  ConfigurationReader before_;
  ConfigurationReader after_;
  AddressBook book_;
  std::optional<FrameTrace> trace_;
  EntryRedaction entries_;
  VinFillers vins_;
  RedactionCount count_;

  std::uint64_t frame_ = 0;  ///< number of the next frame in this reading
  std::map<BusName, std::vector<std::uint16_t>> asked_;
  std::map<Endpoint, bool> identifies_;  ///< whether the last message of several frames did
  std::set<CanId> carriers_;             ///< identifiers in whose frames pieces of a VIN were seen
  std::map<std::uint64_t, std::map<std::uint8_t, std::uint8_t>> patches_;  ///< frame, place, new byte
};

}  // namespace sumplog
