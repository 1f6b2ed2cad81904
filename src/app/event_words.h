#pragma once
#include <optional>
#include <string>
#include <vector>

#include "core/journal/event.h"

namespace sumplog {

/// What the events of one job are in words for a person: the only place for them, whatever command shows them.
class EventWords {
 public:
  explicit EventWords(bool in_fahrenheit) : fahrenheit_(in_fahrenheit) {}

  /// In the order of the journal: an advice that was given already, and a reading that is still missing, are not told again.
  /// out  a line for each thing to say, as long as it is; none for what is no event to a person (readings, estimates);
  ///      without control characters
  [[nodiscard]] std::vector<std::string> of(const Event& event);

 private:
  bool fahrenheit_;
  bool reads_ = false;  ///< the newest reading of the fluid has a value
  std::string advice_;  ///< as it was said last
};

/// "2:10" in minutes and seconds, "75 min" when seconds no longer matter.
[[nodiscard]] std::string ahead_words(double seconds);

}  // namespace sumplog
