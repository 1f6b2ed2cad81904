#pragma once
#include <string>
#include <vector>

#include "core/decoder/decoder.h"
#include "core/item/item.h"
#include "core/journal/event.h"
#include "core/journal/flow.h"

namespace sumplog::fuzz {

/// The text of a file below the sources.
[[nodiscard]] std::string source_text(const std::string& path);

/// Follows a journal and holds each line against what must always be true:
/// a line is read back as it stands; time does not run backwards; a measured reading lies inside the range of a signal that the
/// decoders describe; `inside` stands only on a fresh reading inside the window.
class JournalWatch {
 public:
  /// in  decoders  empty: readings may come from anywhere (a CSV, a foreign job file)
  explicit JournalWatch(const std::vector<Decoder>& decoders) : decoders_(decoders) {}
  void on_output(const Output& out);
  [[nodiscard]] const std::vector<std::string>& lines() const { return lines_; }

 private:
  void on_reading(const ReadingEvent& reading);
  void on_window(const WindowEvent& window);

  const std::vector<Decoder>& decoders_;
  std::vector<std::string> lines_;
  TimePoint last_ = TimePoint::min();
  std::optional<TimePoint> fluid_at_;  ///< of the newest fluid reading with a value
};

/// The journal of these items, as `replay` goes through them: frames that it may leave out are left out.
[[nodiscard]] std::vector<std::string> journal_of(const std::vector<Item>& items,
                                                  const std::vector<Decoder>& decoders);
/// The same as a live job has it: every frame, and an `advance` at each deadline.
[[nodiscard]] std::vector<std::string> live_journal_of(const std::vector<Item>& items,
                                                       const std::vector<Decoder>& decoders);
void require_same_journal(const std::vector<std::string>& one, const std::vector<std::string>& other,
                          std::string_view what);

}  // namespace sumplog::fuzz
