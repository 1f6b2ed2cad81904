#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "core/item/time.h"
#include "core/journal/event.h"

namespace sumplog {

// What one job's file says, put together. An empty text, list or optional is "not known".

/// One time that the work was at a stage.
struct StageVisit {
  std::optional<TimePoint> begun;  ///< absent: only its end was entered
  std::optional<TimePoint> ended;  ///< absent: it is open
  bool late = false;               ///< one of the two was entered late: the time is a person's word
};

enum class StageState : std::uint8_t { not_done, open, done, skipped };

struct StageRecord {
  std::string stage;  ///< of core/job/stages.h
  std::vector<StageVisit> visits;
  bool skipped = false;
  std::string skipped_why;

  /// Done where it was ended; a visit counts for more than a skip.
  [[nodiscard]] StageState state() const;
};

/// What a scan of the fault codes told.
struct ScanRecord {
  struct Code {
    std::string ecu;
    std::string code;
    std::vector<std::string> status;
    std::string text;
    std::string code_class;  ///< advice of a code file; empty: none says anything
  };
  std::string scan;  ///< "before", "after"
  std::optional<TimePoint> ended;
  bool complete = false;
  std::vector<std::string> why;  ///< of "not complete"
  std::vector<std::string> answered;
  std::vector<std::string> silent;
  std::vector<std::string> not_asked;
  std::vector<Code> codes;  ///< each unit and code once, in the order in which they were told
};

struct PartRecord {
  std::string part;
  std::string number;
  double count = 1;
};
struct NoteRecord {
  TimePoint at{};
  std::string text;
  std::string by;
};
struct PhotoRecord {
  TimePoint at{};
  std::string file;    ///< beside the job file
  std::string sha256;  ///< hex
  std::optional<std::uint64_t> bytes;
  std::string type;  ///< "image/jpeg"
  std::string of;
};

enum class OpenItemState : std::uint8_t { open, done, signed_over };

/// Something that follows the job until it is done or signed over.
struct OpenItem {
  std::string item;  ///< its name; what `open_item_done` names
  std::string text;  ///< what is to be done
  bool automatic = false;
  OpenItemState state = OpenItemState::open;
  std::string by;       ///< who did it, or put a name to it
  std::string answer;   ///< what was entered with it
  std::string missing;  ///< why it is still open though somebody called it done
};

struct JobRecord {
  std::string job;      ///< id, 32 hex digits
  std::string program;  ///< version that began it
  std::string time_zone;
  bool redacted = false;              ///< a copy without plate, VIN and customer
  std::vector<std::string> decoders;  ///< ids, as in the file
  std::string service;  ///< id of the service file that was chosen; empty: the only one, or none
  std::optional<TimePoint> began;
  std::optional<TimePoint> ended;  ///< absent: the job is open
  std::optional<TimePoint> last;   ///< of the last item

  // As typed at reception; the last word counts.
  std::string plate;
  std::string vin_typed;
  std::optional<double> odometer_typed_km;
  std::string customer;
  std::string complaint;
  std::string technician;
  std::string transmission;
  std::string unit;
  std::string fluid;
  std::string batch;

  std::vector<std::pair<std::string, std::string>> vins_read;  ///< control unit, VIN
  bool vin_mismatch = false;  ///< a read one differs from the typed one, or from another that was read
  std::optional<double> odometer_read_km;       ///< first in this job
  std::optional<double> odometer_read_last_km;  ///< and last

  std::vector<StageRecord> stages;  ///< all of kStages, in their order
  std::vector<PartRecord> parts;
  std::vector<NoteRecord> notes;
  std::vector<PhotoRecord> photos;
  std::optional<ScanRecord> codes_before;
  std::optional<ScanRecord> codes_after;
  std::optional<ComparedEvent> compared;
  std::optional<BalanceEvent> balance;
  std::optional<ExchangeEvent> exchange;
  std::vector<VerdictEvent> verdicts;  ///< one a level check: the last word on each; the last one counts
  std::optional<LevelSumsEvent> level_sums;

  std::uint64_t gaps = 0;  ///< stretches without live fluid readings
  Duration longest_gap{};
  std::uint64_t losses = 0;   ///< `loss` lines
  std::uint64_t resumed = 0;  ///< how often the program was stopped and went on

  std::vector<OpenItem> open_items;  ///< automatic ones first
  bool may_close = false;            ///< none of them is open
  std::vector<std::string> missing;  ///< what stands in the way, one clause each

  /// The VIN to search and print by: the typed one, else the first that was read.
  [[nodiscard]] std::string vin() const;
  /// nothing: no plug was put back after a level check
  [[nodiscard]] const VerdictEvent* verdict() const;
};

[[nodiscard]] std::string_view text_of(StageState state);
[[nodiscard]] std::string_view text_of(OpenItemState state);

/// One JSON object on one line, keys in a fixed order; what is not known is absent. Described in docs/job_summary.md.
[[nodiscard]] std::string json(const JobRecord& record);

/// The record as a sheet for a terminal: sections, lines of at most 80 columns, the cautions at the end. Times are those of UTC
/// unless `local` says how a time is written.
[[nodiscard]] std::vector<std::string> text(const JobRecord& record,
                                            std::string (*local)(TimePoint) = nullptr);

}  // namespace sumplog
