#pragma once
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "core/asker/asker.h"
#include "core/asker/identifier_sweep.h"
#include "core/asker/sweep_conditions.h"
#include "core/item/item.h"
#include "core/item/time.h"
#include "core/journal/flow.h"

namespace sumplog {

/// A sweep of identifiers beside a live job: what is asked (IdentifierSweep), as long as it may be asked (SweepConditions).
/// Its beginning and every stop, with the reason, go into the record as notes; a stop is for good. The job itself goes on.
class LiveSweep {
 public:
  /// in   settings  of the asker; `sweep` is not empty
  LiveSweep(const AskerSettings& settings, TimePoint start);

  /// The past of a job that is gone on with: what was answered or refused there is not asked again.
  void on_past(const Output& output);
  /// An item whose write returned, and what came of it.
  void on_written(const Item& item, const Output& output);

  /// Hands the asker what may be asked now, and takes back what may not.
  /// in   record  gets the notes
  /// out  true: the asker has something new
  bool on_time(TimePoint now, bool plug_out, Asker& asker, std::vector<Item>& record);
  /// When on_time is wanted, at the latest.
  [[nodiscard]] std::optional<TimePoint> deadline(const Asker& asker) const;

  /// One line for a person: "pass 2, 12 of 20 asked, 20 answer, 6 promising", or why nothing is asked.
  [[nodiscard]] std::string status() const;
  /// It has begun, and not every unit was stopped.
  [[nodiscard]] bool goes_on() const { return begun_ && !over_; }
  [[nodiscard]] SweepProgress progress() const { return sweep_.progress(); }

 private:
  void note(const std::string& text, TimePoint now, std::vector<Item>& record);
  [[nodiscard]] bool may_begin(TimePoint now, std::vector<Item>& record);
  [[nodiscard]] bool may_ask(TimePoint now, Asker& asker, std::vector<Item>& record);
  void stop(const std::string& why, TimePoint now, Asker& asker, std::vector<Item>& record);
  bool ask_unit(const Endpoint& unit, TimePoint now, Asker& asker, std::vector<Item>& record);
  void stop_unit(const Endpoint& unit, const std::string& why, TimePoint now, Asker& asker,
                 std::vector<Item>& record);

  std::string ranges_;
  IdentifierSweep sweep_;
  SweepConditions conditions_;
  TimePoint start_;
  bool polls_ = false;  ///< the asker has the questions about fault codes
  bool begun_ = false;
  bool told_why_not_ = false;
  std::optional<TimePoint> waits_since_;
  std::string waits_for_;
  std::map<Endpoint, std::string> stopped_;
  std::optional<std::string> over_;  ///< why nothing is asked any more
  int notes_ = 0;
};

}  // namespace sumplog
