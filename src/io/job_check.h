#pragma once
#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/capture/reader.h"
#include "core/item/time.h"
#include "io/job_scan.h"
#include "io/verify.h"

namespace sumplog {

/// Reads a job file once, bytes in blocks, for everything that `verify` says: its seals, the photos that it names, whose
/// job it is. Memory is bounded by one item and the list of photos.
class JobCheck {
 public:
  /// in   expected_fingerprint  one kept elsewhere, or empty
  explicit JobCheck(std::string_view expected_fingerprint = {});
  void on_bytes(std::string_view bytes);
  /// No more bytes will come. Nothing may be asked before.
  void on_end();

  /// False: the first line is not that of a job file.
  [[nodiscard]] bool is_job_file() const { return scan_.shape().job_file; }
  [[nodiscard]] Verification verification() const;
  /// Each file once, in the order of their entries; of two entries with one name the later one holds.
  [[nodiscard]] const std::vector<ListedPhoto>& photos() const { return photos_; }
  /// Where the job began and its id; nothing: no settings stand at its beginning.
  [[nodiscard]] std::optional<TimePoint> began() const { return began_; }
  [[nodiscard]] const std::string& job() const { return job_; }

 private:
  void take_items();
  void on_item(const Item& item);

  JobScan scan_;
  std::unique_ptr<CaptureReader> reader_;
  bool has_expectation_ = false;
  bool first_ = true;
  std::optional<TimePoint> began_;
  std::string job_;
  bool redacted_ = false;
  std::vector<ListedPhoto> photos_;
  std::uint64_t last_unreadable_ = 0;  ///< line; 0: none
};

}  // namespace sumplog
