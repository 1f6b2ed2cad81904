#include "core/learn/learn_sheet.h"

#include <algorithm>

#include "core/item/json_line.h"
#include "core/journal/wrapped_text.h"

namespace sumplog {
namespace {

constexpr double kShown = 0.005;     // signals less likely than this are not shown to a person
constexpr double kTelling_nats = 1;  // grounds below it tell nothing

std::string percent(double share) {
  // Never "100 %" of a conclusion.
  constexpr double kMost = 0.999;
  return fixed(std::min(share, kMost) * 100, 1) + " %";
}

std::string place_text(const Candidate& one) {
  return text_of(one.source) + ", " + text_of(one.field) + ": " + text_of(one.encoding) +
         (one.encoding.fitted ? " (fitted)" : "");
}

std::string grounds_text(const Candidate& one, bool for_it) {
  std::vector<std::string> words;
  for (std::size_t i = 0; i < kGrounds; ++i) {
    const double nats = one.score.nats[i];
    if (for_it ? nats < kTelling_nats : nats > -kTelling_nats) continue;
    words.push_back(std::string(text_of(static_cast<Ground>(i))) + ' ' + fixed(nats, 1));
  }
  return joined(words, ", ");
}

std::string rate_text(const Candidate& one) {
  return (one.source.is_broadcast() ? "nothing is asked, " : "has to be asked, ") + fixed(one.per_s, 1) +
         " a second";
}

}  // namespace

std::vector<std::string> learn_sheet(const SearchResult& result, const Evidence& evidence) {
  std::vector<std::string> lines;
  add_wrapped(lines, "",
              fixed(in_seconds(result.end - result.begin) / 60, 1) + " min, " +
                  std::to_string(result.sources) + " sources, " + std::to_string(result.fields) +
                  " fields looked at, readings by hand: " + std::to_string(evidence.seen.size()));
  if (evidence.coolant_c.empty())
    add_wrapped(
        lines, "",
        "The coolant temperature is not in the recording: copies of it cannot be told from the fluid.");
  for (const KnownCopy& one : result.copies)
    add_wrapped(lines, "known    ",
                text_of(one.source) + ", " + text_of(one.field) + ": the " + one.of + " once more");
  for (const FoundSignal& signal : result.signals) {
    if (signal.probability < kShown) continue;
    lines.emplace_back();
    const Candidate& best = signal.best();
    add_wrapped(lines,
                percent(signal.probability) + std::string(signal.probability < 0.0995 ? "    " : "   "),
                place_text(best));
    add_wrapped(
        lines, "         ",
        "from " + fixed(signal.first_c, 1) + " to " + fixed(signal.last_c, 1) + " °C; " + rate_text(best));
    if (const std::string grounds = grounds_text(best, true); !grounds.empty())
      add_wrapped(lines, "         for it: ", grounds);
    if (const std::string grounds = grounds_text(best, false); !grounds.empty())
      add_wrapped(lines, "         against it: ", grounds);
    for (const Candidate* one : signal.sources())
      if (one != &best)
        add_wrapped(lines, "         also in ",
                    place_text(*one) + "; " + rate_text(*one) +
                        (one == &signal.preferred() ? "; the better source" : ""));
  }
  lines.emplace_back();
  lines.push_back(percent(result.none) + std::string(result.none < 0.0995 ? "    " : "   ") +
                  "none of these");
  for (const NextLook& look : next_looks(result, evidence))
    add_wrapped(lines, "next     ", look.what + " (tells " + fixed(look.gain_bits, 1) + " bits)");
  return lines;
}

std::vector<std::string> learn_lines(const SearchResult& result, const Evidence& evidence) {
  std::vector<std::string> lines;
  lines.push_back(JsonLine()
                      .text("kind", "learned")
                      .time("from_t", result.begin)
                      .time("to_t", result.end)
                      .integer("sources", static_cast<std::int64_t>(result.sources))
                      .integer("fields", static_cast<std::int64_t>(result.fields))
                      .integer("seen", static_cast<std::int64_t>(evidence.seen.size()))
                      .number("none", result.none, 4)
                      .flag("confident", result.confident())
                      .take());
  for (const FoundSignal& signal : result.signals)
    for (const Candidate* one : signal.sources()) {
      JsonLine grounds;
      for (std::size_t i = 0; i < kGrounds; ++i) {
        std::string key(text_of(static_cast<Ground>(i)));
        std::replace(key.begin(), key.end(), ' ', '_');
        grounds.number(key, one->score.nats[i], 2);
      }
      lines.push_back(JsonLine()
                          .text("kind", "signal")
                          .number("probability", signal.probability, 4)
                          .text("source", text_of(one->source))
                          .text("bus", one->source.from.bus.text())
                          .text("field", text_of(one->field))
                          .integer("start_bit", one->field.start_bit)
                          .integer("bit_length", one->field.bit_length)
                          .text("byte_order", one->field.byte_order == ByteOrder::big ? "big" : "little")
                          .flag("signed", one->field.is_signed)
                          .number("scale", one->encoding.scale, 9)
                          .number("offset", one->encoding.offset, 9)
                          .flag("fitted", one->encoding.fitted)
                          .number("first_c", signal.first_c, 2)
                          .number("last_c", signal.last_c, 2)
                          .number("per_s", one->per_s, 2)
                          .flag("preferred", one == &signal.preferred())
                          .raw("nats", grounds.take())
                          .take());
    }
  for (const KnownCopy& one : result.copies)
    lines.push_back(JsonLine()
                        .text("kind", "copy")
                        .text("source", text_of(one.source))
                        .text("field", text_of(one.field))
                        .text("of", one.of)
                        .take());
  for (const NextLook& look : next_looks(result, evidence))
    lines.push_back(JsonLine()
                        .text("kind", "next")
                        .text("what", look.what)
                        .number("gain_bits", look.gain_bits, 2)
                        .take());
  return lines;
}

}  // namespace sumplog
