#pragma once
#include <string>
#include <string_view>

#include "core/capture/byte_queue.h"
#include "core/capture/reader.h"
#include "core/capture/reading_log.h"

namespace sumplog {

/// What the binary forms share: blocks counted from 1, a fragment at the end, and a stop at a block whose
/// length is nonsense, because nothing behind it can be found.
class BlockReader : public CaptureReader {
 public:
  void on_bytes(std::string_view bytes) final {
    if (!stopped_) queue_.on_bytes(bytes);
  }
  void on_end() final { ended_ = true; }
  Item* next() final {
    while (!log_.has_item() && !stopped_ && step()) {
    }
    if (ended_ && !stopped_ && !log_.has_item()) finish();
    return log_.take();
  }
  Ending ending() const final { return log_.ending(); }

 protected:
  /// Takes one block from the queue; false when more bytes are needed.
  virtual bool step() = 0;

  void stop(std::string why) {
    stopped_ = true;
    log_.bad_record(block_ + 1, std::move(why) + "; nothing behind it can be read");
  }

  ByteQueue queue_;
  ReadingLog log_;
  std::uint64_t block_ = 0;  ///< how many were taken

 private:
  void finish() {
    stopped_ = true;
    const std::uint64_t rest = queue_.view().size() + queue_.passed();
    if (rest > 0) log_.fragment(block_ + 1, rest, "the last block is a fragment");
  }

  bool ended_ = false;
  bool stopped_ = false;
};

}  // namespace sumplog
