#include "core/capture/candump_reader.h"

#include "core/capture/bus_names.h"
#include "core/capture/candump_text.h"
#include "core/capture/text_reader.h"
#include "core/capture/usual_line.h"

namespace sumplog {
namespace {

class CandumpReader final : public TextReader {
 public:
  /// A log has millions of lines of one form: they go straight from the buffer into the one place for a frame.
  Item* next() override {
    if (!log_.has_item() && read_usual_line(lines_.peek(), *std::get_if<CanFrame>(&usual_))) {
      lines_.take_peeked();
      log_.passed(std::get_if<CanFrame>(&usual_)->at);
      return &usual_;
    }
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
  Item usual_ = CanFrame{};
};

}  // namespace

std::unique_ptr<CaptureReader> make_candump_reader() {
  return std::make_unique<CandumpReader>();
}

}  // namespace sumplog
