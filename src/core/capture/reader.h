#pragma once
#include <cstdint>
#include <memory>
#include <string>
#include <string_view>

#include "core/item/item.h"
#include "core/item/result.h"

namespace sumplog {

/// How an input ended. Three different things: a person must know which.
enum class EndKind : std::uint8_t {
  clean,    ///< the last record is whole
  torn,     ///< the last record is a fragment: normal after a power cut
  corrupt,  ///< a record before the end could not be read (each one also came as an Unreadable item)
};
struct Ending {
  EndKind kind = EndKind::clean;
  std::uint64_t line = 0;   ///< line (text) or block (binary), from 1: the fragment, or the first bad record
  std::uint64_t bytes = 0;  ///< torn: length of the fragment
  std::string why;
  std::uint64_t bad_records = 0;
};

/// Reads one capture form, bytes in, items out, whatever way the bytes are cut. Pure: files belong to the
/// shell. Memory is bounded: a line or block longer than kMaxRecord is skipped and comes as one Unreadable
/// item.
class CaptureReader {
 public:
  static constexpr std::size_t kMaxRecord =
      1U << 20;  // bytes; the longest legal record (a pcapng block) is far shorter
  virtual ~CaptureReader() = default;
  /// Takes more bytes; call next() until it gives nothing before the next call.
  virtual void on_bytes(std::string_view bytes) = 0;
  /// No more bytes will come; call next() until it gives nothing, then ask ending().
  virtual void on_end() = 0;
  /// The next item, for the caller to read or to move away; it stays until the next call of this reader.
  /// out  nullptr when more bytes are needed
  [[nodiscard]] virtual Item* next() = 0;
  [[nodiscard]] virtual Ending ending() const = 0;
};

enum class CaptureForm : std::uint8_t { candump, job_file, pcap, pcapng, asc, csv };

/// Recognises the form by the first bytes (at least 4 KiB of them, or the whole input when shorter).
/// err  what was seen and which forms are possible
[[nodiscard]] Result<CaptureForm> recognise(std::string_view beginning);

/// Makes the reader of a form.
[[nodiscard]] std::unique_ptr<CaptureReader> make_reader(CaptureForm form);

}  // namespace sumplog
