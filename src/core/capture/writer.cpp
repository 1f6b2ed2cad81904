#include "core/capture/writer.h"

#include "core/capture/candump_text.h"
#include "core/capture/frame_writer.h"

namespace sumplog {
namespace {

class CandumpWriter final : public FrameWriter {
 public:
  void on_end(std::string&) override {}

 private:
  void on_frame(const CanFrame& frame, std::string& out) override { (out += candump_line(frame)) += '\n'; }
};

}  // namespace

std::unique_ptr<CaptureWriter> make_candump_writer() {
  return std::make_unique<CandumpWriter>();
}

std::unique_ptr<CaptureWriter> make_writer(WrittenForm form) {
  switch (form) {
    case WrittenForm::candump: return make_candump_writer();
    case WrittenForm::pcapng: return make_pcapng_writer();
    case WrittenForm::asc: return make_asc_writer();
  }
  return nullptr;
}

}  // namespace sumplog
