#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "core/vehicle/hostile/job.h"
#include "core/vehicle/hostile/plan.h"
#include "core/vehicle/hostile/rules.h"

namespace sumplog::hostile {

/// A hostile job and what the judge says of it.
struct Outcome {
  Plan plan;
  Trace trace;
  std::string text;                ///< the job file, without seals
  std::optional<Finding> finding;  ///< nothing: every rule holds
};

/// From the seed to the verdict, with the job's text in memory.
/// in   texts  as opening_of wants them
/// out  a job that could not be run is a finding, too
[[nodiscard]] Outcome run_seed(std::uint64_t seed, const std::vector<DecoderText>& texts,
                               const MemoryWatch& memory = {});

/// Appends the lines of an item to `text`.
/// out  the item as these lines read back
/// err  they do not
[[nodiscard]] Result<Item> write_to(std::string& text, const Item& item);

}  // namespace sumplog::hostile
