#pragma once
#include <map>
#include <string>
#include <vector>

#include "core/item/item.h"
#include "core/journal/event.h"
#include "core/record/job_record.h"
#include "core/record/open_items.h"

namespace sumplog {

/// Puts a job together from its items and from the events that the core made of them: what `jobs show`, the index, the
/// customer's report and the page say of it. Give every item first to the flow, then here: on_item(item), then on_event for
/// each of its events. A repeated entry makes no event and so counts once.
class JobSummary {
 public:
  JobSummary();

  /// Settings, the end, and times.
  void on_item(const Item& item);
  void on_event(const Event& event);

  /// As of now; may be asked at any time.
  [[nodiscard]] JobRecord record() const;

 private:
  void on_entry(const EntryEvent& event);
  void on_intake(const Entry& entry);
  void on_vehicle(const VehicleEvent& event);
  void on_reading(const ReadingEvent& event);
  void on_stage(const StageEvent& event);
  void on_codes(const CodesEvent& event);
  void on_scan(const ScanEvent& event);
  void on_verdict(const VerdictEvent& event);
  void on_typed_item(const Entry& entry);
  void on_settled(const Entry& entry, OpenItemState state);
  [[nodiscard]] bool vins_differ() const;
  [[nodiscard]] std::optional<ScanRecord>* scan_named(std::string_view name);

  JobRecord record_;
  std::vector<OpenItem> typed_items_;
  std::map<std::string, Settlement> settled_;  ///< by name of the item
};

/// The former in one go, for a caller that has both.
void feed(JobSummary& summary, const Item& item, const std::vector<Event>& events);

}  // namespace sumplog
