#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "core/item/item_text.h"
#include "io/sha256.h"

namespace sumplog {

/// Lines of a file, counted from 1, both included.
struct LineRange {
  std::uint64_t first = 0;
  std::uint64_t last = 0;
};

/// What the bytes of a job file say about themselves.
struct JobShape {
  bool job_file = false;              ///< the first line is kJobFileMagic
  std::uint64_t bytes = 0;            ///< all of them, the fragment included
  std::uint64_t lines = 0;            ///< whole lines
  std::uint64_t fragment_bytes = 0;   ///< after the last newline; 0: the last line is whole
  std::uint64_t last_line_bytes = 0;  ///< of the last whole line, without its newline
  std::uint64_t sealed_bytes = 0;     ///< up to and with the line of the last good seal
  std::uint64_t seal_line = 0;        ///< line of the last good seal, 0: none
  std::optional<Seal> seal;           ///< the last good seal
  std::optional<LineRange> changed;   ///< a change lies in these lines; what comes after them is not judged
  std::optional<TimePoint> last_at;   ///< time of the last item
  bool parts_open = false;            ///< the last item lacks some of its numbered parts
  bool ended = false;                 ///< the last item is `end`; a `torn` after it does not count
  bool end_is_last_line = false;      ///< its line is the last one
  bool closed = false;                ///< the last line is a good seal directly after an `end` item
  bool closed_once =
      false;  ///< a seal stands directly after an `end` item somewhere, good or bad: nothing may follow
  bool fragment_closes = false;     ///< only the newline of the closing seal is missing
  std::uint64_t expected_line = 0;  ///< line of the good seal that carries the expected fingerprint, 0: none
};

/// Reads a job file once, bytes in blocks, and checks every seal. Memory is bounded by one line and one item.
/// A seal is good when it is written exactly as seal_line() writes it, its `bytes` is the place where its
/// line starts, its `sha256` is that of all bytes before its line, and its `t` is that of the item before it.
/// src  docs/job_file.md
class JobScan {
 public:
  /// in   expected_fingerprint  a fingerprint kept elsewhere, or empty
  explicit JobScan(std::string expected_fingerprint = {});
  void on_bytes(std::string_view bytes);
  /// No more bytes will come. Nothing may be asked before.
  void on_end();
  [[nodiscard]] const JobShape& shape() const { return shape_; }
  /// Over all bytes.
  [[nodiscard]] const Sha256& hash() const { return hash_; }

 private:
  void on_line(std::string_view line);
  void on_overlong_line(std::uint64_t length);
  void begin_line(std::uint64_t length);
  void on_item_line(std::string_view line);
  void on_seal(const std::optional<Seal>& seal, std::string_view line);
  [[nodiscard]] bool is_good(const Seal& seal, std::string_view line) const;
  [[nodiscard]] std::optional<TimePoint> frame_time() const;

  void judge_bad_seal(std::string_view next_line);

  /// A seal that does not fit may be a fragment: only the next line tells, by being the `torn` item that
  /// speaks of it.
  struct BadSeal {
    LineRange lines;
    std::uint64_t bytes = 0;
    bool closing = false;
  };

  JobShape shape_;
  std::string expected_;
  std::optional<BadSeal> bad_seal_;
  Sha256 hash_;
  ItemLineParser parser_;
  std::uint64_t line_start_ = 0;  ///< offset of the line that is being read
  std::string partial_;           ///< its bytes so far that are not hashed yet
  std::uint64_t overlong_ = 0;    ///< its bytes so far when it is too long for any item; those are hashed
  std::string frame_;  ///< the last line when it is not a comment; parsed only when its time is asked for
  bool line_before_known_ = false;  ///< the last line is an item that could be read, or a frame
  bool end_before_ = false;         ///< the last line is an `end` item
  std::uint64_t closing_line_ = 0;
};

}  // namespace sumplog
