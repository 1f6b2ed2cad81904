#pragma once
#include <gtest/gtest.h>

#include <algorithm>
#include <deque>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "core/asker/asker.h"
#include "core/diagnostics/interpreter.h"
#include "core/diagnostics/pairing.h"
#include "core/guard/guard.h"
#include "core/item/json_line.h"

namespace sumplog::asker_test {

using namespace std::chrono_literals;
using Bytes = std::vector<std::uint8_t>;

inline const BusName kBus{"can0"};
inline Endpoint at(CanId id, std::optional<std::uint8_t> address = std::nullopt) {
  return {kBus, id, address};
}
inline const Endpoint kAll = at(standard_id(0x7DF));
inline const Endpoint kEngine = at(standard_id(0x7E0));
inline const Endpoint kEngineVoice = at(standard_id(0x7E8));
inline const Endpoint kGearbox = at(standard_id(0x7E1));
inline const Endpoint kGearboxVoice = at(standard_id(0x7E9));

inline Signal pid_signal(std::string name, std::uint8_t pid, Duration period) {
  Signal signal;
  signal.name = std::move(name);
  signal.source = PidSource{pid};
  signal.poll_period = period;
  return signal;
}
inline Signal did_signal(std::string name, std::uint16_t did, Duration period, std::string unit = "gearbox") {
  Signal signal;
  signal.name = std::move(name);
  signal.source = DidSource{0x22, did};
  signal.unit_id = std::move(unit);
  signal.poll_period = period;
  return signal;
}
inline Unit unit_at(std::string id, std::uint32_t request, std::uint32_t response) {
  return {std::move(id),
          {standard_id(request), standard_id(response), AddressingMode::normal, std::nullopt, std::nullopt},
          0};
}

/// The answer 41 base with a bitmap of these PIDs (SAE J1979: first bit is base + 1).
inline Bytes support_answer(std::uint8_t base, const std::vector<int>& pids) {
  Bytes answer{0x41, base, 0, 0, 0, 0};
  for (const int pid : pids) {
    const int bit = pid - base - 1;
    if (bit >= 0 && bit < 32)
      answer[2 + static_cast<std::size_t>(bit) / 8] |= static_cast<std::uint8_t>(0x80 >> bit % 8);
  }
  return answer;
}

/// A bus in virtual time: echoes come back after a millisecond, scripted units answer, and the project's own
/// pairing makes exchanges of it.
class AskerTest : public ::testing::Test {
 protected:
  struct Sent {
    TimePoint at{};
    Request request;
    [[nodiscard]] std::string text() const {
      return ecu_text(request.to.id, request.to.address) + " " +
             hex_text(request.payload.data(), request.payload.size());
    }
  };
  struct Answer {
    Endpoint from;
    Bytes payload;
    Duration after = 10ms;
  };

  static std::vector<Decoder> two_units() {
    Decoder decoder;
    decoder.id = "test";
    decoder.units = {unit_at("gearbox", 0x7E1, 0x7E9)};
    decoder.signals = {pid_signal("engine_speed", 0x0C, 500ms), pid_signal("coolant_temperature", 0x05, 2s),
                       did_signal("fluid_temperature", 0x1A05, 500ms),
                       did_signal("selector_position", 0x1A06, 1s)};
    return {decoder};
  }
  /// Engine with PIDs 05, 0C, 0D; gearbox with its identifiers; both answer at once.
  std::vector<Answer> well_behaved(const Request& request) const {
    const Bytes& p = request.payload;
    const bool all = request.to == kAll;
    if (p == Bytes{0x01, 0x00} && all)
      return {{kEngineVoice, support_answer(0, {0x05, 0x0C, 0x0D})},
              {kGearboxVoice, support_answer(0, {0x01})}};
    if (p == Bytes{0x09, 0x02} && all) {
      Bytes vin{0x49, 0x02, 0x01};
      for (const char c : std::string("1DEMX9SUMP0000001")) vin.push_back(static_cast<std::uint8_t>(c));
      return {{kEngineVoice, vin, 30ms}};
    }
    if (p[0] == 0x01 && request.to == kEngine) {
      Bytes answer{0x41};
      for (std::size_t i = 1; i < p.size(); ++i) {
        answer.push_back(p[i]);
        answer.insert(answer.end(), p[i] == 0x0C ? 2 : 1, 0x40);
      }
      return {{kEngineVoice, answer}};
    }
    if (p[0] == 0x22 && request.to == kGearbox) return {{kGearboxVoice, {0x62, p[1], p[2], 0x4B}}};
    return {};
  }

  void start(std::vector<Decoder> decoders, AskerSettings settings = {kBus}) {
    pairing_.emplace(AddressBook{named_units(decoders)});
    guard_.emplace(AddressBook{named_units(decoders)});
    asker_.emplace(decoders, settings, now_);
    if (!answers_) answers_ = [this](const Request& request) { return well_behaved(request); };
  }

  void run_for(Duration duration) {
    const TimePoint end = now_ + duration;
    for (int quiet = 0;;) {
      while (auto request = asker_->next(now_)) send(*request);
      TimePoint due = end;
      if (const auto deadline = asker_->deadline()) due = std::min(due, *deadline + late_);
      if (const auto deadline = pairing_->deadline()) due = std::min(due, *deadline);
      if (!coming_.empty()) due = std::min(due, coming_.front().at);
      // A deadline that brings nothing, again and again, would be busy waiting.
      quiet = due <= now_ ? quiet + 1 : 0;
      ASSERT_LT(quiet, 20) << "the asker waits for a time that has passed";
      now_ = std::max(now_, due);
      while (!coming_.empty() && coming_.front().at <= now_) {
        const Message message = coming_.front();
        coming_.pop_front();
        asker_->on_message(message);
        deliver(pairing_->on_message(message));
      }
      if (pairing_->deadline() && *pairing_->deadline() <= now_) deliver(pairing_->on_deadline(now_));
      if (now_ >= end) return;
    }
  }

  /// A frame of an answer of several frames came from this unit.
  void receive_from(const Endpoint& unit) {
    pairing_->on_transfer(unit);
    asker_->on_receiving(unit, now_);
  }

  /// What was sent to `to`, as text, in order.
  [[nodiscard]] std::vector<Sent> sent_to(const Endpoint& to) const {
    std::vector<Sent> list;
    for (const auto& one : sent_)
      if (one.request.to == to) list.push_back(one);
    return list;
  }
  [[nodiscard]] std::vector<Sent> sent_like(const std::string& text) const {
    std::vector<Sent> list;
    for (const auto& one : sent_)
      if (one.text() == text) list.push_back(one);
    return list;
  }
  [[nodiscard]] std::size_t count(const std::string& text) const { return sent_like(text).size(); }
  [[nodiscard]] std::string why_not(const std::string& what) const {
    for (const auto& one : asker_->not_asked())
      if (one.what == what) return one.why;
    return {};
  }
  /// Gaps between the requests of a list, in order.
  static std::vector<Duration> gaps(const std::vector<Sent>& list) {
    std::vector<Duration> between;
    for (std::size_t i = 1; i < list.size(); ++i) between.push_back(list[i].at - list[i - 1].at);
    return between;
  }

  TimePoint now_ = at_micros(1'700'000'000'000'000);
  std::optional<Asker> asker_;
  std::function<std::vector<Answer>(const Request&)> answers_;
  bool echo_ = true;
  Duration late_{};  ///< the asker is called this much after its deadline
  std::vector<Sent> sent_;

 private:
  void send(const Request& request) {
    // Whatever is asked must be on the guard's list.
    ASSERT_TRUE(guard_->build(request, now_)) << ecu_text(request.to.id);
    sent_.push_back({now_, request});
    if (!echo_) return;
    come({now_ + 1ms, now_ + 1ms, request.to, std::nullopt, request.payload});
    for (const Answer& answer : answers_(request))
      come({now_ + 1ms + answer.after, now_ + 1ms + answer.after, answer.from, std::nullopt, answer.payload});
  }
  void come(Message message) {
    const auto place = std::upper_bound(coming_.begin(), coming_.end(), message,
                                        [](const Message& a, const Message& b) { return a.at < b.at; });
    coming_.insert(place, std::move(message));
  }
  void deliver(const PairingStep& step) {
    for (const Exchange& exchange : step.exchanges) asker_->on_exchange(exchange);
  }

  std::optional<Pairing> pairing_;
  std::optional<Guard> guard_;
  std::deque<Message> coming_;
};

}  // namespace sumplog::asker_test
