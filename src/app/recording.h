#pragma once
#include <deque>
#include <optional>
#include <string>

#include "app/exit_status.h"
#include "app/program_settings.h"
#include "core/item/item.h"
#include "core/item/result.h"
#include "core/journal/flow.h"
#include "io/capture_file.h"

namespace sumplog {

/// A recording and the core that it runs through. A job file brings its own settings and decoders, and what the call names
/// is added behind them; any other capture is opened with the settings of the call and ends with its last item.
class Recording {
 public:
  /// err  the file, or a setting
  [[nodiscard]] static Result<Recording> open(const std::string& path, const ProgramSettings& settings);

  /// The next item for the core; it stays until the next call.
  /// out  nullptr at the end
  [[nodiscard]] Result<const Item*> next() { return next(PassBy{}); }
  /// The same without frames that mean nothing to the job, when every item goes into flow(): far faster for a log of a whole bus.
  [[nodiscard]] Result<const Item*> next_that_counts() { return next(flow_.pass_by()); }
  [[nodiscard]] Flow& flow() { return flow_; }
  /// Says on standard error how the file ended, unless it ended cleanly. A corrupt one is a wrong input.
  [[nodiscard]] ExitStatus report_ending() const;

 private:
  Recording(CaptureFile file, const ProgramSettings& settings)
      : file_(std::move(file)), settings_(&settings) {}
  [[nodiscard]] Result<void> begin();
  [[nodiscard]] Result<const Item*> next(const PassBy& pass);
  [[nodiscard]] Result<const Item*> next_of_file(const PassBy& pass);

  CaptureFile file_;
  const ProgramSettings* settings_;
  Flow flow_;
  std::deque<Item> ahead_;       ///< what goes before the rest of the file
  std::optional<Item> at_hand_;  ///< the one that was handed out, when it is not the file's
  TimePoint last_{};
  bool is_job_ = false;
  bool ended_ = false;
};

}  // namespace sumplog
