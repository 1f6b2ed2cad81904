#pragma once
#include <cstdint>
#include <string>
#include <utility>
#include <vector>

#include "core/capture/reader.h"

namespace sumplog {

/// What a reader has found and not yet handed out, and how its input ended. The rules that all forms share
/// stand here: an Unreadable carries the time of the last good item, a corrupt record outranks a torn tail.
class ReadingLog {
 public:
  void add(const CanFrame& frame) {
    last_ = frame.at;
    make_room();
    items_.emplace_back(frame);
  }
  /// An item of that time was handed out past this log.
  void passed(TimePoint at) { last_ = at; }
  void add(Item&& item) {
    last_ = time_of(item);
    make_room();
    items_.push_back(std::move(item));
  }
  void bad_record(std::uint64_t number, std::string why) {
    if (ending_.kind != EndKind::corrupt) {
      ending_.kind = EndKind::corrupt;
      ending_.line = number;
      ending_.why = why;
    }
    ++ending_.bad_records;
    make_room();
    items_.emplace_back(Unreadable{last_, number, std::move(why)});
  }
  void fragment(std::uint64_t number, std::uint64_t bytes, std::string why) {
    ending_.bytes = bytes;
    if (ending_.kind == EndKind::corrupt) return;
    ending_.kind = EndKind::torn;
    ending_.line = number;
    ending_.why = std::move(why);
  }
  [[nodiscard]] bool has_item() const { return handed_out_ < items_.size(); }
  /// The next item; it stays until something is added. nullptr: there is none.
  [[nodiscard]] Item* take() { return has_item() ? &items_[handed_out_++] : nullptr; }
  [[nodiscard]] const Ending& ending() const { return ending_; }

 private:
  /// What was handed out goes when the next item comes: its place is used again, nothing is allocated.
  void make_room() {
    if (has_item()) return;
    items_.clear();
    handed_out_ = 0;
  }

  std::vector<Item> items_;
  std::size_t handed_out_ = 0;
  TimePoint last_{};
  Ending ending_;
};

}  // namespace sumplog
