#pragma once
#include <map>
#include <optional>
#include <vector>

#include "core/diagnostics/exchange.h"
#include "core/item/item.h"
#include "core/journal/event.h"

namespace sumplog {

/// Who is there and who has fallen silent, seen from the exchanges of whoever asks; and whether another tester
/// is. Says only changes.
///   silent            a unit that had answered left three requests in a row without an answer, for five
///                     seconds or more
///   no unit answers   all that had answered are silent: the ignition may be off
/// src  own choices, the numbers
class UnitWatch {
 public:
  void on_exchange(const Exchange& exchange, std::vector<Event>& events);
  void on_other_tester(const OtherTester& other, TimePoint at, std::vector<Event>& events);

 private:
  struct Known {
    TimePoint answered_at{};
    int missed = 0;
    bool silent = false;
  };
  std::map<Endpoint, Known> units_;
  std::map<BusName, TimePoint> other_tester_at_;
};

}  // namespace sumplog
