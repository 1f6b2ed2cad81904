#pragma once
#include <optional>

#include "core/item/entry_names.h"
#include "core/item/item.h"
#include "core/item/time.h"
#include "core/job/entry_fields.h"

namespace sumplog {

/// Where the plug is, as a person says. What is entered late changes nothing that happened after it.
class Plug {
 public:
  /// in   at  when, as the person says
  /// out  false: it was moved after that, and stays as it is
  bool move(TimePoint at, bool out) {
    if (moved_at_ && at < *moved_at_) return false;
    moved_at_ = at;
    out_ = out;
    return true;
  }
  /// in   now  core time of the entry
  /// out  false: it moves no plug
  bool on_entry(const Entry& entry, TimePoint now) {
    if (entry.name != kPlugOut && entry.name != kPlugIn) return false;
    Entry at_core_time = entry;
    at_core_time.at = now;
    return move(said_time(at_core_time).value_or(now), entry.name == kPlugOut);
  }
  [[nodiscard]] bool out() const { return out_; }
  /// nothing: nobody has said anything of it
  [[nodiscard]] std::optional<TimePoint> moved_at() const { return moved_at_; }

 private:
  std::optional<TimePoint> moved_at_;
  bool out_ = false;
};

}  // namespace sumplog
