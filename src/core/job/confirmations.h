#pragma once
#include <optional>
#include <string>
#include <vector>

#include "core/item/item.h"
#include "core/job/job_settings.h"

namespace sumplog {

/// What the technician stands for: the window, the decoder, and that this unit's thermometer agreed with another one.
class Confirmations {
 public:
  explicit Confirmations(const JobConfiguration& configuration);

  /// An entry `confirmed`; others say nothing.
  void on_entry(const Entry& entry);
  /// A second thermometer was read while the unit's own reading was live. The last comparison counts.
  void on_compared(double by_hand_c, double measured_c);

  /// Where the window comes from: "demo-9/service.toml: invented"; empty: nobody said.
  [[nodiscard]] std::string window_origin() const;
  /// Why the window does not count; nothing: it does.
  [[nodiscard]] std::optional<std::string> window_reason() const;
  /// Why the decoder does not count.
  [[nodiscard]] std::optional<std::string> decoder_reason() const;
  /// Why the unit's thermometer does not count.
  /// in   agreed_cold  it agreed with coolant and air of a cold engine in this job
  [[nodiscard]] std::optional<std::string> thermometer_reason(bool agreed_cold) const;
  /// What of this rests on a person's word alone.
  [[nodiscard]] std::vector<std::string> by_hand(bool agreed_cold) const;

 private:
  struct Said {
    bool confirmed = false;
    std::string origin;
  };
  Said window_;
  Said decoder_;
  bool thermometer_ = false;
  std::string file_origin_;  ///< of the service file's window, where it is the one in use
  bool inferred_ = false;  ///< a decoder file that reads the fluid temperature was concluded from recordings
  bool decoder_known_ = false;   ///< a decoder file reads the fluid temperature, and names its origin
  std::optional<double> off_c_;  ///< by hand minus measured, of the last comparison
};

}  // namespace sumplog
