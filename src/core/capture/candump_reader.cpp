#include "core/capture/candump_reader.h"

#include "core/capture/bus_names.h"
#include "core/capture/candump_text.h"
#include "core/capture/text_reader.h"
#include "core/capture/usual_frames.h"

namespace sumplog {
namespace {

class CandumpReader final : public TextReader {
 public:
  Item* next() override {
    if (Item* const frame = usual_.take(lines_, log_)) return frame;
    return TextReader::next();
  }

 private:
  void on_line(std::string_view line, std::uint64_t number) override {
    if (line.front() == '#') return;
    auto frame = parse_candump_line(line);
    if (!frame) {
      log_.bad_record(number, std::move(frame.error()));
      return;
    }
    // A name of that length may have been cut; two that are cut alike are still two buses.
    if (frame->bus.text().size() == BusName::kMaxLength) frame->bus = buses_.bus_of(interface_name(line));
    log_.add(*frame);
  }

  bool carries_nothing(std::string_view line) const override { return line.front() == '#'; }

  static std::string_view interface_name(std::string_view line) {
    line = trimmed(line.substr(line.find(')') + 1));
    return line.substr(0, line.find_first_of(" \t"));
  }

  BusNames buses_;
  UsualFrames usual_;
};

}  // namespace

std::unique_ptr<CaptureReader> make_candump_reader() {
  return std::make_unique<CandumpReader>();
}

}  // namespace sumplog
