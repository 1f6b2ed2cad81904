#pragma once
#include <cstdint>
#include <memory>
#include <string>

#include "core/item/item.h"

namespace sumplog {

/// Turns items into the bytes of a capture form that other programs read. These forms carry frames and
/// nothing else.
class CaptureWriter {
 public:
  virtual ~CaptureWriter() = default;
  /// Appends what the item adds to the file. A frame needs a bus.
  virtual void on_item(const Item& item, std::string& out) = 0;
  /// Appends what closes the file; of an empty capture too, so that it is a legal file of its form.
  virtual void on_end(std::string& out) = 0;
  /// Frames so far that are not in the file: at a time that the form cannot say.
  [[nodiscard]] virtual std::uint64_t frames_left_out() const = 0;
};

enum class WrittenForm : std::uint8_t {
  candump,  ///< what candump -l writes
  pcapng,   ///< link type 227, one interface for each bus, microseconds; a time before 1970 becomes 1970
  asc,  ///< ASC text log, base hex, absolute times, date in UTC; an error frame keeps only that it was one. No frame a century
        ///< away from the first, or outside of the years 1700 to 2239
};

/// Makes the writer of a form. What it writes, the reader of the form reads back as the same frames, when the names of their
/// buses are plain (ASCII without blanks).
/// src  can-utils candump.c and log2asc.c; draft-ietf-opsawg-pcapng
[[nodiscard]] std::unique_ptr<CaptureWriter> make_writer(WrittenForm form);

}  // namespace sumplog
