#pragma once
#include <cstdint>
#include <deque>
#include <optional>
#include <string>
#include <utility>

#include "core/capture/reader.h"

namespace sumplog {

/// What a reader has found and not yet handed out, and how its input ended. The rules that all forms share
/// stand here: an Unreadable carries the time of the last good item, a corrupt record outranks a torn tail.
class ReadingLog {
 public:
  void add(Item item) {
    last_ = time_of(item);
    ready_.push_back(std::move(item));
  }
  void bad_record(std::uint64_t number, std::string why) {
    if (ending_.kind != EndKind::corrupt) {
      ending_.kind = EndKind::corrupt;
      ending_.line = number;
      ending_.why = why;
    }
    ++ending_.bad_records;
    ready_.push_back(Unreadable{last_, number, std::move(why)});
  }
  void fragment(std::uint64_t number, std::uint64_t bytes, std::string why) {
    ending_.bytes = bytes;
    if (ending_.kind == EndKind::corrupt) return;
    ending_.kind = EndKind::torn;
    ending_.line = number;
    ending_.why = std::move(why);
  }
  [[nodiscard]] bool has_item() const { return !ready_.empty(); }
  [[nodiscard]] std::optional<Item> take() {
    if (ready_.empty()) return std::nullopt;
    std::optional<Item> item(std::move(ready_.front()));
    ready_.pop_front();
    return item;
  }
  [[nodiscard]] const Ending& ending() const { return ending_; }

 private:
  std::deque<Item> ready_;
  TimePoint last_{};
  Ending ending_;
};

}  // namespace sumplog
