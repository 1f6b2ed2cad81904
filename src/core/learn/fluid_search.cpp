#include "core/learn/fluid_search.h"

#include <algorithm>
#include <cmath>
#include <optional>

#include "core/thermal/elementary.h"

namespace sumplog {
namespace {

// Own choices, held by tests/learn on made-up cars.
constexpr double kPresent = 0.7;           // that a car tells its fluid temperature in what was recorded
constexpr double kTemperatures = 8;        // of all kinds that a car tells …
constexpr double kTemperatureShare = 0.1;  // … and at most so many of its bytes
constexpr double kFewestBytes = 30;
constexpr double kCopiedField =
    -12;  // nats: under one encoding the field is a known parameter, so it is not another thing
          // under another one
constexpr double kKeptNats = 25;  // less likely than the best by so much: forgotten
constexpr std::size_t kMostKept = 400;
constexpr double kMostExponent = 60;  // far above any sum of grounds
constexpr double kSame_c = 1.2;       // two readings of one signal differ by their steps
constexpr double kMustReach_c = 110;  // a sensor of a gearbox goes at least so far

/// How common such a field is for a temperature, in nats.
double log_prior(const Field& field) {
  if (!field.whole_bytes()) return field.bit_length > 8 ? -6.5 : -7.5;
  if (field.bit_length == 8) return log_of(field.is_signed ? 0.05 : 0.45);
  if (field.byte_order == ByteOrder::big) return log_of(field.is_signed ? 0.10 : 0.20);
  return log_of(field.is_signed ? 0.03 : 0.10);
}

bool covers(const Field& field, const Encoding& encoding) {
  const double values = static_cast<double>(std::int32_t{1} << field.bit_length);
  const double low = field.is_signed ? -values / 2 : 0;
  return encoding.value(low + values - 1) >= kMustReach_c;
}

struct Anchor {
  double temp_c, raw, weight;
};

/// What is known of the fluid at two moments or more leads to scale and offset without any table.
std::optional<Encoding> fitted(const RawCurve& curve, const Evidence& evidence, TimePoint begin) {
  constexpr double kLeastSpread_c = 8, kFinest = 0.002, kCoarsest = 2.5;
  TimedValues raws;
  for (std::size_t i = 0; i < curve.at.size(); ++i) raws.add(curve.at[i], curve.raw[i]);
  std::vector<Anchor> anchors;
  for (const SeenTemperature& one : evidence.seen)
    if (const auto raw = raws.near(one.at))
      anchors.push_back({one.temp_c, *raw, 1 / (one.error_c * one.error_c)});
  if (const auto soak = cold_soak(evidence, begin); soak && soak->sure == 1)
    anchors.push_back(
        {soak->temp_c, static_cast<double>(curve.raw.front()), 1 / (soak->spread_c * soak->spread_c)});
  if (anchors.size() < 2) return std::nullopt;
  const auto [low, high] = std::minmax_element(
      anchors.begin(), anchors.end(), [](const Anchor& a, const Anchor& b) { return a.temp_c < b.temp_c; });
  if (high->temp_c - low->temp_c < kLeastSpread_c) return std::nullopt;
  double n = 0, sr = 0, st = 0, srr = 0, srt = 0;
  for (const Anchor& a : anchors)
    n += a.weight, sr += a.weight * a.raw, st += a.weight * a.temp_c, srr += a.weight * a.raw * a.raw,
        srt += a.weight * a.raw * a.temp_c;
  const double width = srr - sr * sr / n;
  if (width <= 0) return std::nullopt;
  Encoding encoding;
  encoding.scale = (srt - sr * st / n) / width;
  encoding.offset = (st - encoding.scale * sr) / n;
  encoding.fitted = true;
  if (encoding.scale < kFinest || encoding.scale > kCoarsest) return std::nullopt;
  return encoding;
}

/// All ones say "not available" nearly everywhere: a unit that has just woken sends them. A number with a sign is never as large.
bool is_no_value(const Field& field, std::int32_t raw) {
  return raw == (std::int32_t{1} << field.bit_length) - 1;
}

/// The bits of a series' payloads that change at all.
std::vector<std::uint8_t> changing_bits(const PayloadSeries& series) {
  const auto first = series.payload(0);
  std::vector<std::uint8_t> changed(first.size(), 0);
  for (std::size_t i = 1; i < series.size(); ++i) {
    const auto payload = series.payload(i);
    for (std::size_t k = 0; k < changed.size(); ++k)
      changed[k] = static_cast<std::uint8_t>(changed[k] | (payload[k] ^ first[k]));
  }
  return changed;
}

/// The field's values, or nothing where they jump further than a fluid can go even in steps of `finest` °C.
RawCurve calm_curve(const PayloadSeries& series, const Field& field, double finest) {
  RawCurve curve;
  curve.raw.reserve(series.size());
  JumpCount count(finest, series.size());
  curve.at.reserve(series.size());
  for (std::size_t i = 0; i < series.size(); ++i) {
    const std::int32_t raw = field.raw(series.payload(i));
    if (is_no_value(field, raw)) continue;
    if (!curve.raw.empty() &&
        count.too_many(raw - curve.raw.back(), in_seconds(series.at(i) - curve.at.back())))
      return {};
    curve.raw.push_back(raw);
    curve.at.push_back(series.at(i));
  }
  if (curve.raw.size() < kFewestValues || 2 * curve.raw.size() < series.size()) return {};
  return curve;
}

class Search {
 public:
  Search(const Evidence& evidence, TimePoint begin, const PayloadLog& log)
      : evidence_(evidence), begin_(begin) {
    double bytes = 0;
    for (const auto& [source, series] : log.series()) bytes += source.length;
    bytes_ = std::max(bytes, kFewestBytes);
    temperature_share_ = std::min(kTemperatures / bytes_, kTemperatureShare);
  }

  void look_at(const PayloadSeries& series) {
    if (series.size() < kFewestValues) return;
    const std::vector<std::uint8_t> changing = changing_bits(series);
    for (const Field& field : fields_of(series.source())) {
      Field bits = field;
      bits.is_signed = false;
      const std::int32_t mask = bits.raw(changing);
      const bool sign_says_nothing =
          field.is_signed && !field.whole_bytes() && (mask >> (field.bit_length - 1)) == 0;
      if (mask != 0 && !sign_says_nothing) look_at(series, field);
    }
  }
  [[nodiscard]] SearchResult take(const PayloadLog& log);

 private:
  void look_at(const PayloadSeries& series, const Field& field);
  void forget_unlikely();

  const Evidence& evidence_;
  TimePoint begin_;
  double bytes_ = 0;              ///< of all payloads: so many places there are
  double temperature_share_ = 0;  ///< of those
  std::vector<Candidate> kept_;
  std::vector<KnownCopy> copies_;
  std::uint64_t fields_ = 0;
};

void Search::look_at(const PayloadSeries& series, const Field& field) {
  ++fields_;
  struct Tried {
    Encoding encoding;
    double share;
  };
  std::vector<Tried> tried;
  double finest = 1;
  for (const UsualEncoding& one : usual_encodings(field.bit_length, field.is_signed)) {
    if (!covers(field, one.encoding)) continue;
    tried.push_back({one.encoding, one.share});
    finest = std::min(finest, one.encoding.scale);
  }
  const RawCurve curve = calm_curve(series, field, finest);
  if (curve.raw.empty()) return;
  if (const auto through = fitted(curve, evidence_, begin_)) tried.push_back({*through, kFittedShare});
  std::vector<Candidate> candidates;
  bool copies = false;
  double as_temperature = 0;
  for (const Tried& one : tried) {
    const auto score = score_curve(curve, one.encoding, evidence_, begin_);
    if (!score) continue;
    Candidate candidate{series.source(), field, one.encoding, *score, 0, 0};
    const double span_s = in_seconds(curve.at.back() - curve.at.front());
    candidate.per_s = static_cast<double>(series.heard()) / span_s;
    candidate.log_weight = log_of(kPresent / bytes_) + log_prior(field) + log_of(one.share) + score->total();
    // Any other temperature looks the same but for its lag and its agreement with readings by hand: what speaks for a
    // temperature speaks for those as well, whatever their encoding.
    as_temperature += one.share * exp_of(std::min(score->as_temperature(), kMostExponent));
    candidates.push_back(candidate);
    if (score->copies.empty() || one.encoding.fitted) continue;
    copies = true;
    if (field.whole_bytes()) copies_.push_back({series.source(), field, one.encoding, score->copies});
  }
  const double something_else = log_of(1 + temperature_share_ * as_temperature);
  for (Candidate& one : candidates) {
    one.log_weight -= something_else;
    if (copies && one.score.copies.empty()) {
      one.score[Ground::copy] = kCopiedField;
      one.log_weight += kCopiedField;
    }
    kept_.push_back(one);
  }
  if (kept_.size() > 2 * kMostKept) forget_unlikely();
}

void Search::forget_unlikely() {
  std::stable_sort(kept_.begin(), kept_.end(),
                   [](const Candidate& a, const Candidate& b) { return a.log_weight > b.log_weight; });
  if (kept_.size() > kMostKept) kept_.erase(kept_.begin() + kMostKept, kept_.end());
  while (!kept_.empty() && kept_.back().log_weight < kept_.front().log_weight - kKeptNats) kept_.pop_back();
}

/// The candidate's temperatures, as it told them.
TimedValues temperatures_of(const Candidate& one, const PayloadLog& log) {
  const PayloadSeries& series = log.series().at(one.source);
  TimedValues values;
  for (std::size_t i = 0; i < series.size(); ++i) {
    const std::int32_t raw = one.field.raw(series.payload(i));
    if (!is_no_value(one.field, raw)) values.add(series.at(i), one.encoding.value(raw));
  }
  return values;
}

/// Those at a few moments spread over the capture.
std::vector<std::optional<double>> course_of(const TimedValues& values, TimePoint begin, TimePoint end) {
  constexpr int kMoments = 12;
  std::vector<std::optional<double>> course;
  for (int i = 0; i <= kMoments; ++i) course.push_back(values.near(begin + (end - begin) * i / kMoments));
  return course;
}

bool same_course(const std::vector<std::optional<double>>& a, const std::vector<std::optional<double>>& b,
                 double allowed) {
  std::size_t compared = 0;
  for (std::size_t i = 0; i < a.size(); ++i) {
    if (!a[i] || !b[i]) continue;
    ++compared;
    if (std::abs(*a[i] - *b[i]) > allowed) return false;
  }
  return compared >= 3;
}

SearchResult Search::take(const PayloadLog& log) {
  SearchResult result;
  result.begin = begin_;
  result.fields = fields_;
  result.copies = std::move(copies_);
  forget_unlikely();
  for (const auto& [source, series] : log.series()) {
    ++result.sources;
    result.end = std::max(result.end, series.at(series.size() - 1));
  }
  std::vector<std::vector<std::optional<double>>> courses;
  for (const Candidate& one : kept_) {
    const TimedValues values = temperatures_of(one, log);
    const auto course = course_of(values, begin_, result.end);
    bool joined = false;
    for (std::size_t i = 0; i < result.signals.size() && !joined; ++i) {
      const double allowed = kSame_c + (one.encoding.scale + result.signals[i].best().encoding.scale) / 2;
      if (!same_course(courses[i], course, allowed)) continue;
      // What was fitted to the readings agrees with them whatever it is: no place of the signal.
      if (!one.encoding.fitted) result.signals[i].places.push_back(one);
      joined = true;
    }
    if (joined) continue;
    FoundSignal signal;
    signal.places.push_back(one);
    signal.first_c = values.value(0);
    signal.last_c = values.value(values.size() - 1);
    result.signals.push_back(std::move(signal));
    courses.push_back(course);
  }
  // Each signal weighs as its best place: a copy is the same signal, and says nothing more of what it is.
  const double top = result.signals.empty() ? 0 : std::max(0.0, result.signals.front().best().log_weight);
  double sum = (1 - kPresent) * exp_of(-top);
  for (FoundSignal& one : result.signals) sum += one.probability = exp_of(one.best().log_weight - top);
  result.none = (1 - kPresent) * exp_of(-top) / sum;
  for (FoundSignal& one : result.signals) one.probability /= sum;
  if (result.signals.size() > SearchResult::kMostSignals) result.signals.resize(SearchResult::kMostSignals);
  return result;
}

}  // namespace

std::vector<const Candidate*> FoundSignal::sources() const {
  std::vector<const Candidate*> best;
  for (const Candidate& one : places) {
    const bool known = std::any_of(best.begin(), best.end(),
                                   [&](const Candidate* other) { return other->source == one.source; });
    if (!known) best.push_back(&one);
  }
  return best;
}

const Candidate& FoundSignal::preferred() const {
  constexpr double kNearly = 4;  // nats; own choice: a copy is not dropped for the encoding that it has
  const Candidate* chosen = &best();
  for (const Candidate* one : sources()) {
    if (one->log_weight < best().log_weight - kNearly) continue;
    const bool asked = !one->source.is_broadcast(), chosen_asked = !chosen->source.is_broadcast();
    if (asked != chosen_asked ? chosen_asked : one->per_s > chosen->per_s) chosen = one;
  }
  return *chosen;
}

SearchResult search_fluid(const PayloadLog& log, const Evidence& evidence, TimePoint begin) {
  Search search(evidence, begin, log);
  for (const auto& [source, series] : log.series()) search.look_at(series);
  return search.take(log);
}

}  // namespace sumplog
