#include <chrono>

#include "core/asker/sweep_range.h"
#include "core/capture/decimal_time.h"
#include "core/codes/code_file.h"
#include "core/job/job_settings.h"
#include "core/learn/seen_text.h"
#include "fuzz/feed.h"

namespace sumplog::fuzz {
namespace {

constexpr TimePoint kBegin = at_micros(1700000000000000);

void seen(const std::string& text) {
  const auto read = parse_seen(text, kBegin, [](const TimeOfDay& time) {
    require(time.hour >= 0 && time.hour < 24 && time.minute >= 0 && time.minute < 60, "no time of day");
    require(time.second >= 0 && time.second < 61, "no second of a minute");
    return kBegin + std::chrono::hours{time.hour};
  });
  require(read || !read.error().what.empty(), "a text is refused without a word");
}

void sweep_range(std::string_view text) {
  const auto range = parse_sweep_range(text);
  if (!range) return;
  require(range->first <= range->last, "a range runs backwards");
  const auto again = parse_sweep_range(text_of(*range));
  require(again && *again == *range, "a range changes when it is written");
}

// What a person types on the command line: the first byte says which.
void take(Bytes bytes) {
  Feed feed(bytes);
  const std::size_t which = feed.below(5);
  const std::string text(text_of(feed.rest()));
  switch (which) {
    case 0: seen(text); break;
    case 1: sweep_range(text); break;
    case 2: {
      const auto window = parse_window(text);
      require(!window || window->low < window->high, "a window without an inside");
      break;
    }
    case 3: {
      const auto code = parse_code_name(text);
      if (code && code->form == CodeRange::Form::spn) require(code->value < 1U << 19, "an SPN of 20 bits");
      break;
    }
    default: (void)decimal_micros(text);
  }
}
const Registered kTarget("typed_texts", take);

}  // namespace
}  // namespace sumplog::fuzz
