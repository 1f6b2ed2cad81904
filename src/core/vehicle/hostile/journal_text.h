#pragma once
#include <optional>
#include <string>
#include <string_view>

#include "core/item/time.h"

namespace sumplog::hostile {

/// A journal line as whoever reads it sees it: text, with keys.
class JournalText {
 public:
  explicit JournalText(std::string_view line) : line_(line) {}
  /// A string or a number as it stands there; nothing when the key is absent.
  [[nodiscard]] std::optional<std::string_view> value(std::string_view key) const;
  [[nodiscard]] std::string_view text(std::string_view key) const {
    return value(key).value_or(std::string_view{});
  }
  [[nodiscard]] std::optional<double> number(std::string_view key) const;
  [[nodiscard]] TimePoint at() const;
  [[nodiscard]] bool is(std::string_view kind) const { return text("kind") == kind; }

 private:
  std::string_view line_;
};

}  // namespace sumplog::hostile
