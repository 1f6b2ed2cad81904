#include <map>
#include <set>

#include "core/journal/capture_run.h"

namespace sumplog {
namespace {

// Without frame k, with frame k doubled, swapped with its neighbour, or with a bit flipped: no reading is invented, and no
// loss is silent. SUMPLOG_WALK=all visits every frame; otherwise some forty of each capture.

using Values = std::map<std::string, int>;  // signal, ecu, value as text → how often

Values values_of(const Output& out) {
  Values values;
  for (const Event& event : out.events)
    if (const auto* r = std::get_if<ReadingEvent>(&event))
      ++values[r->signal + ' ' + r->ecu + ' ' + (r->value ? fixed(*r->value, 6) : "none")];
  return values;
}

int total(const Values& values) {
  int count = 0;
  for (const auto& [value, n] : values) count += n;
  return count;
}

/// How many readings are in `a` and not in `b`.
int more_in(const Values& a, const Values& b) {
  int count = 0;
  for (const auto& [value, n] : a) {
    const auto found = b.find(value);
    count += std::max(0, n - (found == b.end() ? 0 : found->second));
  }
  return count;
}

std::size_t troubles(const Output& out) {
  std::size_t count = 0;
  for (const Event& event : out.events)
    if (std::holds_alternative<LossEvent>(event) || std::holds_alternative<GapEvent>(event)) ++count;
  return count;
}

class CaptureWalk : public testing::TestWithParam<fs::path> {
 protected:
  void SetUp() override {
    items_ = items_of(file_text(GetParam() / "capture.log"));
    ASSERT_FALSE(items_.empty());
    opening_ = opening_of(GetParam(), time_of(items_.front()));
    const Output whole = run_items(opening_, items_);
    values_ = values_of(whole);
    troubles_ = troubles(whole);
    asks_ = !whole.exchanges.empty();
    const char* all = std::getenv("SUMPLOG_WALK");
    constexpr std::size_t kSome = 40;
    step_ = all != nullptr && std::string(all) == "all" ? 1 : std::max<std::size_t>(1, items_.size() / kSome);
  }

  /// Calls `visit` with the index of some frames. Not of the last second: a request that is still open when the capture ends
  /// is not lost.
  template <class Visit>
  void walk(Visit visit) {
    const TimePoint judged = time_of(items_.back()) - std::chrono::milliseconds{1100};
    for (std::size_t k = 0; k < items_.size(); k += step_)
      if (std::holds_alternative<CanFrame>(items_[k]) && time_of(items_[k]) < judged) visit(k);
  }

  std::vector<Item> items_;
  std::vector<Item> opening_;
  Values values_;
  std::size_t troubles_ = 0;
  bool asks_ = false;  ///< broadcasts are not asked for: one that is lost cannot be missed
  std::size_t step_ = 1;
};

TEST_P(CaptureWalk, WithoutOneFrameNoReadingIsInventedAndNoLossIsSilent) {
  walk([&](std::size_t k) {
    auto items = items_;
    items.erase(items.begin() + static_cast<std::ptrdiff_t>(k));
    const Output out = run_items(opening_, items);
    const Values values = values_of(out);
    EXPECT_EQ(more_in(values, values_), 0) << "frame " << k;
    if (asks_ && total(values) < total(values_)) {
      EXPECT_GT(troubles(out), troubles_) << "frame " << k;
    }
  });
}

TEST_P(CaptureWalk, ADoubledFrameAddsNoValueThatWasNotThere) {
  walk([&](std::size_t k) {
    auto items = items_;
    items.insert(items.begin() + static_cast<std::ptrdiff_t>(k), items[k]);
    const Output out = run_items(opening_, items);
    const Values values = values_of(out);
    // A broadcast may come twice; an answer counts once.
    if (asks_) {
      EXPECT_EQ(more_in(values, values_), 0) << "frame " << k;
    }
    for (const auto& [value, n] : values)
      EXPECT_TRUE(values_.contains(value)) << value << " after frame " << k;
    if (asks_ && total(values) < total(values_)) {
      EXPECT_GT(troubles(out), troubles_) << "frame " << k;
    }
  });
}

TEST_P(CaptureWalk, TwoSwappedFramesInventNothing) {
  walk([&](std::size_t k) {
    if (k + 1 >= items_.size() || !std::holds_alternative<CanFrame>(items_[k + 1])) return;
    auto items = items_;
    std::swap(items[k], items[k + 1]);
    std::swap(std::get<CanFrame>(items[k]).at, std::get<CanFrame>(items[k + 1]).at);
    const Output out = run_items(opening_, items);
    const Values values = values_of(out);
    EXPECT_EQ(more_in(values, values_), 0) << "frame " << k;
    if (asks_ && total(values) < total(values_)) {
      EXPECT_GT(troubles(out), troubles_) << "frame " << k;
    }
  });
}

TEST_P(CaptureWalk, AFlippedBitChangesNoMoreThanTheMessageThatItIsIn) {
  // A frame carries at most some ten signals; what CAN's own checksum lets through cannot be told from the truth.
  constexpr int kSignalsOfAMessage = 12;
  walk([&](std::size_t k) {
    for (const unsigned bit : {0U, 13U, 26U, 39U, 52U}) {
      auto items = items_;
      auto& frame = std::get<CanFrame>(items[k]);
      if (bit / 8 >= frame.length) continue;
      frame.bytes[bit / 8] = static_cast<std::uint8_t>(frame.bytes[bit / 8] ^ (1U << bit % 8));
      const Output out = run_items(opening_, items);
      const Values values = values_of(out);
      EXPECT_LE(more_in(values, values_), kSignalsOfAMessage) << "frame " << k << " bit " << bit;
      if (asks_ && total(values) < total(values_)) {
        EXPECT_GT(troubles(out), troubles_) << "frame " << k << " bit " << bit;
      }
    }
  });
}

INSTANTIATE_TEST_SUITE_P(All, CaptureWalk, testing::ValuesIn(capture_folders()), capture_name);

}  // namespace
}  // namespace sumplog
