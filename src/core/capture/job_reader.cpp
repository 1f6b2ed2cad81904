#include "core/capture/job_reader.h"

#include <deque>

#include "core/capture/line_buffer.h"
#include "core/item/item_text.h"

namespace sumplog {
namespace {

class JobReader final : public CaptureReader {
 public:
  void on_bytes(std::string_view bytes) override { lines_.on_bytes(bytes); }
  void on_end() override {
    lines_.on_end();
    ended_ = true;
  }

  std::optional<Item> next() override {
    while (ready_.empty()) {
      const auto line = lines_.next();
      if (!line) {
        if (!ended_ || !held_) break;
        release();
        continue;
      }
      on_line(*line);
    }
    if (ready_.empty()) return std::nullopt;
    Item item = std::move(ready_.front());
    ready_.pop_front();
    last_ = time_of(item);
    return item;
  }

  Ending ending() const override { return ending_; }

 private:
  struct Held {
    std::string text;
    std::uint64_t number = 0;
    std::uint64_t bytes = 0;
    bool overlong = false;
  };

  void on_line(const TextLine& line) {
    if (!line.whole) {
      if (held_) release();
      if (ending_.kind != EndKind::corrupt) ending_.kind = EndKind::torn;
      if (ending_.kind == EndKind::torn) ending_.line = line.number;
      ending_.bytes = line.bytes;
      if (ending_.why.empty()) ending_.why = "the last line is a fragment";
      return;
    }
    // Only a `torn` item can speak about the line before it; every other line lets that one go.
    if (held_ && line.text.find("\"item\":\"torn\"") != std::string_view::npos) {
      ItemLineParser parser;
      const auto parsed = parser.on_line(line.text);
      const auto* torn = parsed.item ? std::get_if<Torn>(&*parsed.item) : nullptr;
      if (torn != nullptr && torn->bytes == held_->bytes) {
        parser_.drop_parts();
        held_.reset();
      }
    }
    if (held_) release();
    held_ = Held{std::string(line.text), line.number, line.bytes, line.overlong};
  }

  /// Makes the held line count.
  void release() {
    const Held line = std::move(*held_);
    held_.reset();
    if (line.overlong) {
      bad(line.number, "the line is longer than 1 MiB");
      return;
    }
    ParsedLine parsed = parser_.on_line(line.text);
    if (!parsed.problem.empty()) bad(line.number, parsed.problem);
    if (parsed.item) ready_.push_back(std::move(*parsed.item));
  }

  void bad(std::uint64_t number, const std::string& why) {
    if (ending_.kind != EndKind::corrupt) {
      ending_.kind = EndKind::corrupt;
      ending_.line = number;
      ending_.why = why;
    }
    ++ending_.bad_records;
    ready_.push_back(Unreadable{ready_.empty() ? last_ : time_of(ready_.back()), number, why});
  }

  LineBuffer lines_{CaptureReader::kMaxRecord};
  ItemLineParser parser_;
  std::optional<Held> held_;
  std::deque<Item> ready_;
  TimePoint last_{};
  Ending ending_;
  bool ended_ = false;
};

}  // namespace

std::unique_ptr<CaptureReader> make_job_reader() {
  return std::make_unique<JobReader>();
}

}  // namespace sumplog
