#pragma once
#include <cstdint>
#include <string>
#include <vector>

#include "core/learn/byte_source.h"
#include "core/learn/curve_score.h"
#include "core/learn/encoding.h"
#include "core/learn/evidence.h"
#include "core/learn/field.h"
#include "core/learn/payload_log.h"

namespace sumplog {

/// One place where the fluid temperature may stand, and how.
struct Candidate {
  ByteSource source{};
  Field field{};
  Encoding encoding{};
  CurveScore score{};
  double log_weight = 0;  ///< prior and score, in nats, against "something else"
  double per_s = 0;       ///< how often the source spoke
};

/// Candidates that mean the same temperatures at the same times: one signal, in one place or in several.
struct FoundSignal {
  std::vector<Candidate>
      places;  ///< the most likely first; another source is a copy, the same source another reading of it
  double probability = 0;          ///< that this is the fluid temperature
  double first_c = 0, last_c = 0;  ///< of the capture
  [[nodiscard]] const Candidate& best() const { return places.front(); }
  /// The best reading of each source, the likeliest first: copies of one signal.
  [[nodiscard]] std::vector<const Candidate*> sources() const;
  /// Where to read it from: of sources that are nearly as likely as the best one, one that needs no request, and then the
  /// fastest.
  [[nodiscard]] const Candidate& preferred() const;
};

/// A field that is a standard parameter once more.
struct KnownCopy {
  ByteSource source{};
  Field field{};
  Encoding encoding{};
  std::string of;  ///< "coolant temperature"
};

struct SearchResult {
  std::vector<FoundSignal> signals;  ///< the most likely first; at most kMostSignals
  double none = 1;                   ///< probability that none of these is the fluid temperature
  std::vector<KnownCopy> copies;
  std::uint64_t sources = 0;
  std::uint64_t fields = 0;  ///< that were looked at
  TimePoint begin{};
  TimePoint end{};

  static constexpr std::size_t kMostSignals = 8;
  /// A decoder may be written.
  static constexpr double kConfident = 0.98;  // own choice: the benchmark counts how often that is wrong
  [[nodiscard]] bool confident() const {
    return !signals.empty() && signals.front().probability >= kConfident;
  }
};

/// Looks for the fluid temperature in every field of every source. The result is a probability for each signal that could be
/// it, and for none.
/// in   begin  of the capture
/// src  posterior over models: weight = prior * likelihood ratio against "something else", each divided by their sum
[[nodiscard]] SearchResult search_fluid(const PayloadLog& log, const Evidence& evidence, TimePoint begin);

}  // namespace sumplog
