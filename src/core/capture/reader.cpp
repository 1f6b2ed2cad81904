#include "core/capture/reader.h"

#include <array>

#include "core/capture/asc_reader.h"
#include "core/capture/candump_reader.h"
#include "core/capture/candump_text.h"
#include "core/capture/csv_reader.h"
#include "core/capture/job_reader.h"
#include "core/capture/pcap_reader.h"
#include "core/capture/pcapng_blocks.h"
#include "core/capture/pcapng_reader.h"
#include "core/capture/socketcan_packet.h"
#include "core/capture/text_reader.h"
#include "core/item/item_text.h"
#include "core/item/json_line.h"

namespace sumplog {
namespace {

constexpr char kForms[] =
    "possible are a candump log, a job file, pcap or pcapng with link type 227, an ASC text log, "
    "and a CSV that begins with t_s,temp_c";

tl::unexpected<Fault> foreign_link_type(std::uint16_t link_type) {
  return fault("the capture has link type " + std::to_string(link_type) + "; only 227 (CAN) can be read", {},
               "capture on the CAN interface itself");
}

/// Line by line over text of which the last line may be cut.
class Lines {
 public:
  explicit Lines(std::string_view text) : rest_(without_mark(text)) {}
  bool next() {
    if (rest_.empty()) return false;
    const std::size_t newline = rest_.find('\n');
    line = trimmed(rest_.substr(0, newline));
    rest_ = newline == std::string_view::npos ? std::string_view{} : rest_.substr(newline + 1);
    return true;
  }
  std::string_view line;

 private:
  std::string_view rest_;
};

/// "can0  7E8   [8]  06 41 …", with or without a time in front.
bool is_candump_screen(std::string_view line) {
  const std::size_t bracket = line.find("  [");
  return bracket != std::string_view::npos && line.find(']', bracket) <= bracket + 5 &&
         line.find('#') == std::string_view::npos;
}

bool begins_packed(std::string_view bytes) {
  // RFC 1952 (gzip), RFC 8878 (zstd), xz file format 1.0.4, ZIP APPNOTE, bzip2
  constexpr std::array<std::string_view, 5> kMagic{"\x1F\x8B", "\x28\xB5\x2F\xFD",
                                                   "\xFD"
                                                   "7zXZ",
                                                   "PK\x03\x04", "BZh"};
  for (const std::string_view magic : kMagic) {
    if (bytes.starts_with(magic)) return true;
  }
  return false;
}

std::string first_bytes(std::string_view bytes) {
  constexpr std::size_t kShown = 8;
  std::string text;
  for (const char c : bytes.substr(0, kShown)) {
    const auto byte = static_cast<std::uint8_t>(c);
    if (!text.empty()) text += ' ';
    text += hex_text(&byte, 1);
  }
  return text;
}

/// The text forms; nothing when no line speaks for one of them.
std::optional<Result<CaptureForm>> recognise_text(std::string_view beginning) {
  bool like_candump = false;
  bool first = true;
  for (Lines lines(beginning); lines.next();) {
    const std::string_view line = lines.line;
    if (line.starts_with(kJobFileMagic) || line.starts_with("# {\"")) return CaptureForm::job_file;
    if (line.empty() || line.starts_with("#") || line.starts_with("//")) continue;
    if (is_asc_header(line)) return CaptureForm::asc;
    if (parse_candump_line(line)) return CaptureForm::candump;
    if (is_candump_screen(line)) {
      return fault("this is what candump shows on the screen, not its log", {},
                   "record with candump -l, or with candump -L and a redirection");
    }
    if (first && line.substr(0, line.find(' ')).find("t_s") != std::string_view::npos) {
      if (auto columns = csv_columns(line); !columns) return fault("CSV of readings: " + columns.error());
      return CaptureForm::csv;
    }
    like_candump = like_candump || (line.size() > 1 && line[0] == '(' && line[1] >= '0' && line[1] <= '9');
    first = false;
  }
  // Not one whole line: a log that was torn in its first line, or one whose lines are all damaged.
  if (like_candump) return CaptureForm::candump;
  return std::nullopt;
}

}  // namespace

Result<CaptureForm> recognise(std::string_view beginning) {
  if (beginning.empty()) return fault("the input is empty", {}, kForms);
  constexpr std::size_t kMagicSize = 4;
  if (beginning.size() >= kMagicSize && wire_u32(beginning, 0, WireOrder::little) == pcapng::kSectionHeader) {
    if (const auto link_type = pcapng_foreign_link_type(beginning)) return foreign_link_type(*link_type);
    return CaptureForm::pcapng;
  }
  if (beginning.size() >= PcapHeader::kSize) {
    if (const auto header = parse_pcap_header(beginning)) {
      if (header->link_type != kLinkTypeCanSocketcan) return foreign_link_type(header->link_type);
      return CaptureForm::pcap;
    }
  }
  if (begins_packed(beginning)) return fault("the input is packed", {}, "unpack it first");
  if (auto text = recognise_text(beginning)) return std::move(*text);
  return fault("the input is no capture: it begins with the bytes " + first_bytes(beginning), {}, kForms);
}

std::unique_ptr<CaptureReader> make_reader(CaptureForm form) {
  switch (form) {
    case CaptureForm::candump: return make_candump_reader();
    case CaptureForm::job_file: return make_job_reader();
    case CaptureForm::pcap: return make_pcap_reader();
    case CaptureForm::pcapng: return make_pcapng_reader();
    case CaptureForm::asc: return make_asc_reader();
    case CaptureForm::csv: return make_csv_reader();
  }
  return nullptr;
}

}  // namespace sumplog
