#pragma once
#include <cstdint>
#include <optional>
#include <span>
#include <utility>
#include <vector>

#include "core/vehicle/drivetrain.h"
#include "core/vehicle/fault_plan.h"

namespace sumplog {

/// The fault memory of one unit as it stands, and what it counts since it was cleared. Only events of the scenario change it.
class FaultMemory {
 public:
  using FreezeFrame = std::vector<std::pair<std::uint8_t, std::vector<std::uint8_t>>>;
  struct Entry {
    CodePlan plan;
    std::uint8_t status = 0;  ///< ISO 14229-1
    bool permanent = false;
    bool holds_records = false;  ///< its snapshot and extended data records are there
    std::optional<FreezeFrame> frame;
  };

  explicit FaultMemory(FaultMemoryPlan plan);

  /// Codes that are there from the start take their freeze frame, and the counters begin.
  void begin(const Drivetrain& drivetrain);
  void apply(const CodeSets& change, const Drivetrain& drivetrain);
  void apply(const CodeChanges& change, const Drivetrain& drivetrain);
  void apply(const CodeGoes& change, const Drivetrain& drivetrain);
  /// Permanent codes stay, monitors have not run, counters are at zero.
  void apply(const CodesCleared& change, const Drivetrain& drivetrain);

  [[nodiscard]] const FaultMemoryPlan& plan() const { return plan_; }
  [[nodiscard]] const std::vector<Entry>& entries() const { return entries_; }
  /// Freeze frames with the code that stored each, in the order of the codes.
  [[nodiscard]] std::vector<const Entry*> frames() const;

  /// True for the parameters of SAE J1979 service 01 that tell of the memory: 01 21 30 31 4D 4E.
  [[nodiscard]] static bool tells(std::uint8_t pid);
  /// in   pid  one of those
  /// src  SAE J1979, table of PIDs
  [[nodiscard]] std::vector<std::uint8_t> parameter(std::uint8_t pid, const Drivetrain& drivetrain) const;

 private:
  [[nodiscard]] bool lamp() const;
  [[nodiscard]] std::size_t stored() const;
  [[nodiscard]] std::vector<std::uint8_t> readiness() const;
  void take_frame(Entry& entry, const Drivetrain& drivetrain) const;
  void follow_lamp(const Drivetrain& drivetrain);

  /// A counter of kilometres and minutes that runs on from what it had.
  struct Counter {
    double km = 0;
    double minutes = 0;
  };
  static Counter now(const Drivetrain& drivetrain);

  FaultMemoryPlan plan_;
  std::vector<Entry> entries_;
  bool cleared_ = false;
  bool lamp_was_on_ = false;
  Counter since_clear_;  ///< less what the vehicle had counted then
  Counter with_lamp_;    ///< the same while the lamp is on; the sum while it is off
};

}  // namespace sumplog
