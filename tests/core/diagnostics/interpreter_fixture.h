#pragma once
#include <gtest/gtest.h>

#include <chrono>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "core/decoder/folders.h"
#include "core/diagnostics/interpreter.h"
#include "core/isotp/frames.h"
#include "core/journal/event.h"

namespace sumplog::testing {

inline Decoder shipped(const std::string& id) {
  const std::string name = id + "/signals.toml";
  auto decoder = parse_decoder(file_text(std::string(SUMPLOG_SOURCE) + "/decoders/" + name), name);
  EXPECT_TRUE(decoder.has_value()) << (decoder ? "" : decoder.error().text());
  return decoder.value_or(Decoder{});
}

/// An interpreter with words for exchanges; readings come back as "engine_speed 1726.00 rpm".
class InterpreterTest : public ::testing::Test {
 protected:
  static constexpr TimePoint kAt = at_micros(1700000000000000);

  explicit InterpreterTest(const std::vector<Decoder>& decoders) : interpreter_(decoders) {}

  void exchange(std::string_view asked, std::string_view answer, CanId unit = standard_id(0x7E8)) {
    Exchange e;
    e.asked_at = kAt;
    e.ended_at = kAt + std::chrono::milliseconds{20};
    e.request = {BusName("can0"), standard_id(0x7DF), std::nullopt};
    e.unit = Endpoint{BusName("can0"), unit, std::nullopt};
    e.asked = isotp_words::bytes(asked);
    e.response = isotp_words::bytes(answer);
    e.result = ExchangeResult::answered;
    interpreter_.on_exchange(e, events_);
  }

  /// Readings since the last call: name, value with its decimals and unit, or name, "?" and why.
  std::vector<std::string> readings() {
    std::vector<std::string> texts;
    for (const Event& event : events_) {
      const auto* r = std::get_if<ReadingEvent>(&event);
      if (r == nullptr) continue;
      std::string value = "?";
      if (r->value) {
        JsonNumber number;
        value = number(*r->value, r->decimals);
      }
      texts.push_back(r->signal + " " + value + (r->why.empty() ? " " + r->unit : " " + r->why) +
                      (r->label.empty() ? "" : " " + r->label));
    }
    return texts;
  }
  std::vector<std::string> losses() const {
    std::vector<std::string> texts;
    for (const Event& event : events_)
      if (const auto* loss = std::get_if<LossEvent>(&event)) texts.push_back(loss->why);
    return texts;
  }
  std::vector<VehicleEvent> vehicle() const {
    std::vector<VehicleEvent> all;
    for (const Event& event : events_)
      if (const auto* one = std::get_if<VehicleEvent>(&event)) all.push_back(*one);
    return all;
  }
  const ReadingEvent& reading(std::size_t n = 0) const {
    for (const Event& event : events_)
      if (const auto* one = std::get_if<ReadingEvent>(&event); one != nullptr && n-- == 0) return *one;
    ADD_FAILURE() << "no such reading";
    static const ReadingEvent kNone;
    return kNone;
  }

  struct JsonNumber {
    std::string operator()(double value, int decimals) const {
      char text[64];
      std::snprintf(text, sizeof text, "%.*f", decimals, value);
      return text;
    }
  };

  Interpreter interpreter_;
  std::vector<Event> events_;
};

using Texts = std::vector<std::string>;

}  // namespace sumplog::testing
