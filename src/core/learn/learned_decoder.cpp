#include "core/learn/learned_decoder.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "core/decoder/decoder.h"
#include "core/diagnostics/service.h"
#include "core/item/json_line.h"
#include "core/j1939/identifier.h"
#include "core/thermal/temperature.h"

namespace sumplog {
namespace {

// What a fluid in a gearbox can have: own choice. Anything else is no reading, so a wrong decoder is not believed far outside.
constexpr double kColdest_c = -40, kHottest_c = 170;
constexpr int kShownDecimals = 2;

constexpr int kDecimals = 9;  // of scale, offset and values

std::string hex_number(std::uint32_t value) {
  const std::uint8_t bytes[] = {static_cast<std::uint8_t>(value >> 24U),
                                static_cast<std::uint8_t>(value >> 16U),
                                static_cast<std::uint8_t>(value >> 8U), static_cast<std::uint8_t>(value)};
  const std::string digits = hex_text(bytes, sizeof bytes);
  const std::size_t first = std::min(digits.find_first_not_of('0'), digits.size() - 1);
  return "0x" + digits.substr(first);
}

std::string bytes_text(const std::vector<std::uint8_t>& payload) {
  std::string text;
  for (const std::uint8_t byte : payload) text += (text.empty() ? "" : " ") + hex_text(&byte, 1);
  return text;
}

/// The decoder in the unit that the steps have: °F where they are °F.
class Writer {
 public:
  Writer(const Candidate& place, const PayloadSeries& series) : place_(place), series_(series) {
    const Encoding& encoding = place.encoding;
    scale_ = encoding.fahrenheit ? fahrenheit(CelsiusDifference{encoding.scale}) : encoding.scale;
    offset_ = encoding.fahrenheit ? fahrenheit(Celsius{encoding.offset}) : encoding.offset;
    const std::int32_t values = std::int32_t{1} << place.field.bit_length;
    lowest_ = place.field.is_signed ? -values / 2 : 0;
    all_ones_ = place.field.is_signed ? -1 : values - 1;
    highest_ = lowest_ + values - 1;
    if (!place.field.is_signed) --highest_;  // all ones are taken for "no value"
    while (place.encoding.value(lowest_) < kColdest_c) ++lowest_;
    while (place.encoding.value(highest_) > kHottest_c) --highest_;
    decimals_ = 0;
    double step = scale_;
    while (decimals_ < kShownDecimals && std::abs(step - std::round(step)) > 1e-6) step *= 10, ++decimals_;
  }

  [[nodiscard]] std::string signal(const std::string& note) const {
    const Field& field = place_.field;
    std::string text = "[[signal]]\nname = \"fluid_temperature\"\nunit = \"" +
                       std::string(place_.encoding.fahrenheit ? "degF" : "degC") + "\"\n";
    text += source();
    text += "length = " + std::to_string(place_.source.length) + '\n';
    text += "start_bit = " + std::to_string(field.start_bit) +
            "\nbit_length = " + std::to_string(field.bit_length) + '\n';
    text += "byte_order = \"" + std::string(field.byte_order == ByteOrder::big ? "big" : "little") + "\"\n";
    if (field.is_signed) text += "signed = true\n";
    text += "scale = " + shortest(scale_, kDecimals) + "\noffset = " + shortest(offset_, kDecimals) + '\n';
    if (decimals_ > 0) text += "decimals = " + std::to_string(decimals_) + '\n';
    text += "valid = [" + shortest(value(lowest_), kDecimals) + ", " + shortest(value(highest_), kDecimals) +
            "]  # what a fluid can have\n";
    if (!field.is_signed)
      text += "no_value = [ { raw = " + hex_number(static_cast<std::uint32_t>(all_ones_)) +
              ", meaning = \"not available (assumed)\" } ]\n";
    if (!place_.source.is_broadcast()) text += "poll_s = 0.5\n";
    text += "origin = \"inferred\"\norigin_note = " + json_string(note) + '\n';
    return text + checks();
  }

  [[nodiscard]] std::string unit() const {
    if (place_.source.is_broadcast()) return {};
    const ByteSource& source = place_.source;
    std::string text = "[[ecu]]\nid = \"unit\"\nrequest = " + hex_number(source.asked->id.value) +
                       "\nresponse = " + hex_number(source.from.id.value) + '\n';
    if (source.asked->address) {
      // 18CE… is mixed addressing by its identifier, an address byte on any other is extended (ISO 15765-2).
      constexpr std::uint32_t kMixed = 0x18CE;
      text += std::string("addressing = \"") +
              (source.asked->id.value >> 16U == kMixed ? "mixed" : "extended") + "\"\n";
      text += "request_address = " + hex_number(*source.asked->address) + '\n';
      if (source.from.address) text += "response_address = " + hex_number(*source.from.address) + '\n';
    }
    return text + '\n';
  }

 private:
  [[nodiscard]] double value(std::int32_t raw) const { return raw * scale_ + offset_; }
  [[nodiscard]] std::string source() const {
    const ByteSource& source = place_.source;
    if (source.group)
      return "spn = 0  # its number is not known\npgn = " + hex_number(*source.group) +
             "\nsource_address = " + hex_number(source_address(source.from.id)) + '\n';
    if (source.is_broadcast()) {
      constexpr std::uint32_t kLongestStandard = 0x7FF;
      std::string text = "frame = " + hex_number(source.from.id.value) + '\n';
      if (source.from.id.extended && source.from.id.value <= kLongestStandard) text += "extended = true\n";
      return text;
    }
    std::string text = source.service == service::kReadDataByLocalIdentifier ? "service = 0x21\n" : "";
    return text + "did = " + hex_number(source.identifier) + "\necu = \"unit\"\n";
  }
  [[nodiscard]] std::string check(const std::vector<std::uint8_t>& payload,
                                  const std::optional<double>& expected, const std::string& why) const {
    return "  { bytes = \"" + bytes_text(payload) + "\", " +
           (expected ? "value = " + shortest(*expected, kDecimals) : "no_reading = true") + " }," +
           (why.empty() ? "" : "  # " + why) + '\n';
  }
  [[nodiscard]] std::string made(std::int32_t raw, const std::string& why) const {
    std::vector<std::uint8_t> payload(place_.source.length, 0);
    place_.field.put(payload, raw);
    return check(payload, value(raw), why);
  }
  [[nodiscard]] std::string checks() const {
    std::string text = "checks = [\n" + made(lowest_, "lowest");
    const auto zero = static_cast<std::int32_t>(std::floor(-offset_ / scale_)) - 1;
    if (zero > lowest_) text += made(zero, "below zero");
    text += made(highest_, "highest");
    if (!place_.field.is_signed) {
      std::vector<std::uint8_t> payload(place_.source.length, 0);
      place_.field.put(payload, all_ones_);
      text += check(payload, std::nullopt, "");
    }
    // From the recording: the first, the last and the two in between, as they came.
    constexpr std::size_t kThirds = 3;
    for (std::size_t i = 0; i <= kThirds; ++i) {
      const auto payload = series_.payload((series_.size() - 1) * i / kThirds);
      const std::int32_t raw = place_.field.raw(payload);
      if (raw < lowest_ || raw > highest_) continue;
      text += check({payload.begin(), payload.end()}, value(raw), "recorded");
    }
    return text + "]\n";
  }

  const Candidate& place_;
  const PayloadSeries& series_;
  double scale_, offset_;
  std::int32_t lowest_, highest_, all_ones_;
  int decimals_;
};

std::string minutes_text(Duration span) {
  return fixed(in_seconds(span) / 60, 1) + " min";
}

std::string evidence_note(const Candidate& place, const FoundSignal& signal, const SearchResult& result,
                          const Evidence& evidence) {
  std::string note = "sumplog learn, one recording of " + minutes_text(result.end - result.begin) + ": " +
                     fixed(signal.probability * 100, 1) + " % that this is it";
  note += evidence.seen.empty() ? ", no reading by hand"
                                : ", readings by hand: " + std::to_string(evidence.seen.size());
  if (place.encoding.fitted) note += "; scale and offset fitted to them";
  return note;
}

}  // namespace

Result<LearnedDecoder> learned_decoder(const std::string& id, const Candidate& place,
                                       const FoundSignal& signal, const SearchResult& result,
                                       const Evidence& evidence, const PayloadLog& log) {
  const Writer writer(place, log.series().at(place.source));
  const std::string note = evidence_note(place, signal, result, evidence);
  LearnedDecoder out;
  out.signals =
      "# Written by sumplog learn from one recording. How to read this file: "
      "docs/decoder_format.md.\n\nformat = 1\nid = " +
      json_string(id) + "\ntitle = " + json_string("Learned: fluid temperature in " + text_of(place.source)) +
      "\nnote = \"Inferred from one recording. Compare it with a second thermometer before you rely on "
      "it.\"\n\n" +
      writer.unit() + writer.signal(note);
  if (auto parsed = parse_decoder(out.signals, id + "/signals.toml"); !parsed)
    return tl::unexpected(parsed.error());
  out.notes = "# " + id + "\n\nFluid temperature: " + text_of(place.source) + ", " + text_of(place.field) +
              ", " + text_of(place.encoding) + ".\n\nOrigin: inferred. " + note +
              ".\n\n| ground | nats |\n|---|---|\n";
  for (std::size_t i = 0; i < kGrounds; ++i)
    out.notes +=
        "| " + std::string(text_of(static_cast<Ground>(i))) + " | " + fixed(place.score.nats[i], 1) + " |\n";
  out.notes +=
      "\nA nat is a natural logarithm of a likelihood ratio: 3 is about 20 to 1 for the fluid temperature, "
      "-3 as much against it.\n";
  std::string others;
  for (const Candidate* one : signal.sources())
    if (one->source != place.source)
      others +=
          "- " + text_of(one->source) + ", " + text_of(one->field) + ", " + text_of(one->encoding) + '\n';
  if (!others.empty()) out.notes += "\nThe same signal stands in:\n\n" + others;
  out.notes +=
      "\nWhat is doubtful: everything, until a probe agreed with it cold and warm in a job. Until then no "
      "job with this "
      "decoder has its conditions kept.\n";
  return out;
}

}  // namespace sumplog
