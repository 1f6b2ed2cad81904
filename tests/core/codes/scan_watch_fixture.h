#pragma once
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <chrono>
#include <string>
#include <string_view>
#include <vector>

#include "core/codes/scan_watch.h"
#include "core/isotp/frames.h"

namespace sumplog::testing {

using namespace std::chrono_literals;
using isotp_words::bytes;

/// A decoder that names one unit, 7E1 / 7E9; invented.
inline Decoder gearbox() {
  Decoder decoder;
  decoder.id = "invented";
  Unit unit;
  unit.id = "transmission";
  unit.address.request = standard_id(0x7E1);
  unit.address.response = standard_id(0x7E9);
  decoder.units.push_back(unit);
  return decoder;
}

class ScanWatchTest : public ::testing::Test {
 protected:
  void mark(bool begun, std::string scan = "before") {
    watch.on_mark(ScanMark{now, begun, std::move(scan)}, now, events);
  }
  void exchange(std::uint32_t to, std::uint32_t unit, std::string_view asked, std::string_view response) {
    Exchange e;
    e.asked_at = e.ended_at = now;
    e.request = Endpoint{bus, standard_id(to), std::nullopt};
    if (unit != 0) e.unit = Endpoint{bus, standard_id(unit), std::nullopt};
    e.asked = bytes(asked);
    const auto answer = bytes(response);
    if (answer.empty()) {
      e.result = ExchangeResult::silent;
    } else if (answer[0] == 0x7F) {
      e.result = ExchangeResult::refused;
      e.negative_code = answer[2];
    } else {
      e.result = ExchangeResult::answered;
      e.response = answer;
    }
    watch.on_exchange(e, {}, events);
  }
  void to_all(std::uint32_t unit, std::string_view asked, std::string_view response) {
    exchange(0x7DF, unit, asked, response);
  }
  void group(std::uint32_t id, std::uint32_t pgn, std::string_view data, bool extended = true) {
    Message message;
    message.at = now;
    message.from = Endpoint{bus, extended ? extended_id(id) : standard_id(id), std::nullopt};
    message.group = pgn;
    message.payload = bytes(data);
    told_again = watch.on_group(message, events);
  }
  void entry(std::string_view name, std::string fields = "{}") {
    watch.on_entry(Entry{now, "1", std::string(name), std::move(fields)}, now, events);
  }
  void reading(const char* signal, double value, const char* ecu) {
    ReadingEvent r;
    r.at = now;
    r.bus = bus;
    r.signal = signal;
    r.value = value;
    r.ecu = ecu;
    watch.on_reading(r);
  }
  /// Both units tell everything that they must.
  void both_tell() {
    to_all(0x7E8, "03", "43 01 0711");
    to_all(0x7E9, "03", "43 00");
    to_all(0x7E8, "07", "47 00");
    to_all(0x7E9, "07", "47 00");
  }
  template <class T>
  std::vector<T> all() const {
    std::vector<T> found;
    for (const Event& event : events)
      if (const auto* one = std::get_if<T>(&event)) found.push_back(*one);
    return found;
  }
  ScanEvent whole() const {
    const auto found = all<ScanEvent>();
    EXPECT_EQ(found.size(), 1U);
    return found.empty() ? ScanEvent{} : found.back();
  }

  BusName bus{"can0"};
  TimePoint now{1700000000s};
  ScanWatch watch{{gearbox()}, {}};
  std::vector<Event> events;
  std::optional<Endpoint> told_again;  ///< what the last group() brought
};

}  // namespace sumplog::testing
