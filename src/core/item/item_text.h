#pragma once
#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/item/item.h"

namespace sumplog {

/// First line of every job file.
inline constexpr std::string_view kJobFileMagic = "# sumplog-job 1";
/// Longest comment line in bytes, "# " included, newline not: canplayer and log2asc read lines into 400
/// bytes.
inline constexpr std::size_t kMaxItemLine = 390;

/// The lines of a job file that carry one item, without newlines: the candump form for a frame, otherwise one
/// line "# {…}", or several numbered parts when it is longer than kMaxItemLine. err  none: every item has a
/// text, except Unreadable, which readers make and nobody writes (asserted) src  docs/job_file.md
[[nodiscard]] std::vector<std::string> item_lines(const Item& item);

/// A seal: SHA-256 over all bytes of the file before its line. Not an item: it changes no output.
struct Seal {
  TimePoint at{};
  std::uint64_t bytes = 0;  ///< how many bytes it covers
  std::string sha256;       ///< 64 lower-case hex digits
};
[[nodiscard]] std::string seal_line(const Seal& seal);
/// Nothing when the line is not a seal.
[[nodiscard]] std::optional<Seal> parse_seal(std::string_view line);

/// What one line gave. Both may be set: an item that is whole, and the item before it that is not.
struct ParsedLine {
  std::optional<Item>
      item;  ///< nothing after the first line of the file, a part that is not the last, a seal, a blank line
  std::string problem;  ///< a clause; empty when nothing was lost
};

/// Reads lines back into items: the inverse of item_lines, one line at a time. A bad line costs that line
/// alone, or the parts of its own item.
class ItemLineParser {
 public:
  [[nodiscard]] ParsedLine on_line(std::string_view line);
  /// Lines of an unfinished multi-part item that are held now.
  [[nodiscard]] std::size_t parts_held() const { return next_part_ > 0 ? next_part_ - 1 : 0; }
  void drop_parts();

 private:
  ParsedLine on_object(std::string_view json);
  std::string collected_;
  std::size_t next_part_ = 0;  ///< 0: no parts are open
  std::size_t part_count_ = 0;
};

}  // namespace sumplog
