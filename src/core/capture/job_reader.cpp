#include "core/capture/job_reader.h"

#include <utility>

#include "core/capture/line_buffer.h"
#include "core/capture/reading_log.h"
#include "core/capture/usual_frames.h"
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

  Item* next() override {
    if (lines_.rest().starts_with(kFrameLine)) {
      if (held_) {
        release();  // a frame is no `torn` item
      } else if (parser_.parts_held() == 0) {
        if (Item* const frame = usual_.take_before(kFrameLine, lines_, log_)) return frame;
      }
    }
    while (!log_.has_item()) {
      const auto line = lines_.next();
      if (line) {
        on_line(*line);
      } else if (ended_ && held_) {
        on_last_line();
      } else {
        break;
      }
    }
    return log_.take();
  }

  Ending ending() const override { return log_.ending(); }

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
      // Parts that wait for their last one were cut with it.
      parser_.drop_parts();
      log_.fragment(line.number, line.bytes, "the last line is a fragment");
      return;
    }
    if (held_) {
      const auto torn = torn_item(line);
      if (torn && torn->bytes == held_->bytes) {
        parser_.drop_parts();
        held_.reset();
      } else {
        release();
        if (torn)
          log_.bad_record(line.number, "'torn' speaks of " + std::to_string(torn->bytes) +
                                           " bytes, the line before it has another length");
      }
    }
    held_ = Held{std::string(line.text), line.number, line.bytes, line.overlong};
  }

  /// Only a `torn` item can speak about the line before it; every other line lets that one go.
  static std::optional<Torn> torn_item(const TextLine& line) {
    if (line.text.find("\"item\":\"torn\"") == std::string_view::npos) return std::nullopt;
    const auto parsed = ItemLineParser().on_line(line.text);
    const auto* torn = parsed.item ? std::get_if<Torn>(&*parsed.item) : nullptr;
    return torn == nullptr ? std::nullopt : std::optional(*torn);
  }

  void on_last_line() {
    const std::uint64_t number = held_->number;
    const std::uint64_t bytes = held_->bytes;
    release();
    if (parser_.parts_held() == 0) return;
    parser_.drop_parts();
    log_.fragment(number, bytes, "the last item lacks some of its numbered parts");
  }

  /// Makes the held line count.
  void release() {
    const Held line = std::move(*held_);
    held_.reset();
    if (line.overlong) {
      parser_.drop_parts();
      log_.bad_record(line.number, "the line is longer than 1 MiB");
      return;
    }
    ParsedLine parsed = parser_.on_line(line.text);
    if (!parsed.problem.empty()) log_.bad_record(line.number, std::move(parsed.problem));
    if (parsed.item) log_.add(std::move(*parsed.item));
  }

  static constexpr char kFrameLine = '(';

  LineBuffer lines_{CaptureReader::kMaxRecord};
  ItemLineParser parser_;
  std::optional<Held> held_;
  ReadingLog log_;
  UsualFrames usual_;
  bool ended_ = false;
};

}  // namespace

std::unique_ptr<CaptureReader> make_job_reader() {
  return std::make_unique<JobReader>();
}

}  // namespace sumplog
