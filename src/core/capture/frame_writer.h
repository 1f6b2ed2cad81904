#pragma once
#include <string>

#include "core/capture/writer.h"

namespace sumplog {

/// What the writers share: frames are written, everything else is passed over.
class FrameWriter : public CaptureWriter {
 public:
  void on_item(const Item& item, std::string& out) final {
    if (const auto* frame = std::get_if<CanFrame>(&item)) on_frame(*frame, out);
  }
  std::uint64_t frames_left_out() const final { return left_out_; }

 protected:
  virtual void on_frame(const CanFrame& frame, std::string& out) = 0;
  /// The form cannot hold this frame.
  void leave_out() { ++left_out_; }

 private:
  std::uint64_t left_out_ = 0;
};

[[nodiscard]] std::unique_ptr<CaptureWriter> make_candump_writer();
[[nodiscard]] std::unique_ptr<CaptureWriter> make_pcapng_writer();
[[nodiscard]] std::unique_ptr<CaptureWriter> make_asc_writer();

}  // namespace sumplog
