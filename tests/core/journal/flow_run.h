#pragma once
#include <gtest/gtest.h>

#include <chrono>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "core/decoder/folders.h"
#include "core/isotp/frames.h"
#include "core/journal/flow.h"

namespace sumplog::testing {

inline constexpr TimePoint kJobStart = at_micros(1700000000000000);

/// The items that open a job with the invented demo family.
inline std::vector<Item> demo_opening(std::vector<std::pair<std::string, std::string>> values = {}) {
  std::vector<Item> items{Settings{kJobStart, "job", "program", "", std::move(values)}};
  for (const char* name : {"obd-generic/signals.toml", "demo-9/signals.toml", "demo-9/service.toml"})
    items.push_back(
        DecoderText{kJobStart, name, file_text(std::string(SUMPLOG_SOURCE) + "/decoders/" + name)});
  return items;
}

/// A flow and the journal that it wrote.
class FlowRun {
 public:
  FlowRun() = default;
  explicit FlowRun(const std::vector<Item>& items) { feed(items); }

  void feed(const Item& item) {
    out_.clear();
    flow_.on_item(item, out_);
    for (const Event& event : out_.events) {
      events_.push_back(event);
      lines_.push_back(journal_line(event));
    }
    exchanges_.insert(exchanges_.end(), out_.exchanges.begin(), out_.exchanges.end());
  }
  void feed(const std::vector<Item>& items) {
    for (const Item& item : items) feed(item);
  }
  const Flow& flow() const { return flow_; }
  /// Of the last item alone.
  const Output& out() const { return out_; }
  const std::vector<std::string>& lines() const { return lines_; }
  const std::vector<Exchange>& exchanges() const { return exchanges_; }

  template <class E>
  std::vector<E> all() const {
    std::vector<E> found;
    for (const Event& event : events_)
      if (const auto* one = std::get_if<E>(&event)) found.push_back(*one);
    return found;
  }

 private:
  Flow flow_;
  Output out_;
  std::vector<Event> events_;
  std::vector<std::string> lines_;
  std::vector<Exchange> exchanges_;
};

/// Writes items of a job with the demo family, time going on.
class JobScript {
 public:
  explicit JobScript(std::vector<Item> opening = demo_opening()) : items_(std::move(opening)) {}

  JobScript& wait(Duration d) {
    now_ += d;
    return *this;
  }
  JobScript& item(Item one) {
    items_.push_back(std::move(one));
    return *this;
  }
  JobScript& frame(CanId id, std::string_view hex, BusName bus = BusName("can0")) {
    return item(data_frame(now_, bus, id, isotp_words::bytes(hex)));
  }
  /// Request and answer of the demo family's fluid temperature; raw is the byte on the wire (°C + 40).
  JobScript& fluid_raw(int raw, BusName bus = BusName("can0")) {
    frame(standard_id(0x7E1), "03221A05CCCCCCCC", bus);
    now_ += std::chrono::milliseconds{5};
    CanFrame answer = data_frame(now_, bus, standard_id(0x7E9), isotp_words::bytes("04621A0500AAAAAA"));
    answer.bytes[4] = static_cast<std::uint8_t>(raw);
    return item(answer);
  }
  JobScript& fluid(int celsius) { return fluid_raw(celsius + 40); }
  TimePoint now() const { return now_; }
  const std::vector<Item>& items() const { return items_; }

 private:
  std::vector<Item> items_;
  TimePoint now_ = kJobStart + std::chrono::seconds{1};
};

}  // namespace sumplog::testing
