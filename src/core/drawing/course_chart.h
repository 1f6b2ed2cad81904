#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "core/drawing/thinned_course.h"
#include "core/item/item.h"
#include "core/job/job_settings.h"
#include "core/journal/event.h"

namespace sumplog {

/// How a course is to be drawn.
struct CourseOptions {
  int width = 720;   ///< CSS pixels, clamped to kSmallest… … kLargest…
  int height = 320;  ///< as width
  bool fahrenheit = false;
  std::optional<TimePoint> from;  ///< absent: the start of the job
  std::optional<TimePoint> to;    ///< absent: the last item, or `now` and what is forecast from there
  std::optional<TimePoint>
      now;  ///< of a job that runs: the forecast is drawn while it is live. Absent: it is over
  std::string id = "course";  ///< begins the ids inside: another one for each picture of a page
  std::string title = "Temperature of the transmission fluid";
  std::string (*clock)(TimePoint) = nullptr;  ///< "10:15"; absent: UTC

  static constexpr int kSmallestWidth = 280;
  static constexpr int kSmallestHeight = 160;
  static constexpr int kLargest = 4000;
};

/// The course of the fluid temperature since the start of a job. Give every item first to the flow, then here: on_item(item), then
/// on_event for each of its events; then live and replayed jobs give the same picture, byte for byte.
///
/// Memory is bounded for a job of any length: four thinned courses and kMostMarks marks.
class CourseChart {
 public:
  static constexpr std::size_t kMostMarks = 200;

  enum class MarkKind : std::uint8_t { plug_out, plug_in, engine_started, engine_stopped };
  struct Mark {
    TimePoint at{};
    MarkKind kind = MarkKind::plug_out;
  };

  CourseChart();

  /// The opening items tell window and decision point.
  void on_item(const Item& item);
  void on_event(const Event& event);

  /// An SVG element, without an XML declaration and without a script or a stylesheet: shapes have classes, and attributes that a
  /// stylesheet of the page overrules (docs/web.md names them). The same input gives the same bytes.
  [[nodiscard]] std::string svg(const CourseOptions& options) const;

  [[nodiscard]] bool empty() const;

 private:
  friend class CourseDrawing;
  using Unit = std::pair<BusName, std::string>;

  void on_reading(const ReadingEvent& reading);
  void on_fluid(const ReadingEvent& reading);
  void add_mark(Mark mark);
  [[nodiscard]] const JobConfiguration& configuration() const;

  ConfigurationReader reader_;
  mutable std::optional<JobConfiguration> configuration_;
  std::optional<TimePoint> began_;
  std::optional<TimePoint> last_;
  ThinnedCourse fluid_;
  ThinnedCourse by_hand_;
  ThinnedCourse suspect_;
  ThinnedCourse coolant_;
  std::optional<Unit> fluid_unit_;  ///< two units may give the same signal; the first stays the source
  std::optional<Unit> coolant_unit_;
  std::optional<Unit> engine_unit_;
  std::optional<bool> engine_runs_;
  std::vector<Mark> marks_;
  std::uint64_t marks_left_out_ = 0;
  std::optional<ThermalEvent> thermal_;  ///< the newest
};

/// Both in one go, for a caller that has both.
void feed(CourseChart& chart, const Item& item, const std::vector<Event>& events);

/// "plug out", "engine started"
[[nodiscard]] std::string_view text_of(CourseChart::MarkKind kind);

}  // namespace sumplog
