#include "core/capture/pcap_reader.h"

#include "core/capture/block_reader.h"
#include "core/capture/socketcan_packet.h"

namespace sumplog {
namespace {

constexpr std::uint32_t kMagicMicroseconds = 0xA1B2C3D4;  // pcap-savefile(5)
constexpr std::uint32_t kMagicNanoseconds = 0xA1B23C4D;   // pcap-savefile(5)
constexpr std::size_t kLinkTypeOffset = 20;
constexpr std::size_t kRecordHeader = 16;
constexpr std::uint32_t kMicrosPerSecond = 1000000;
constexpr std::uint32_t kNanosPerMicro = 1000;
// Capture tools pad packets at most to a multiple of 16; a longer record is nonsense, and so is all behind
// it.
constexpr std::size_t kLongestRecord = kLongestSocketcanPacket + 16;

class PcapReader final : public BlockReader {
 private:
  bool step() override {
    const std::string_view bytes = queue_.view();
    if (!header_) {
      if (bytes.size() < PcapHeader::kSize) return false;
      take_header(bytes);
      return true;
    }
    // offset | size | name:  0 | 4 | seconds   4 | 4 | fraction   8 | 4 | bytes here   12 | 4 | bytes on the
    // wire
    if (bytes.size() < kRecordHeader) return false;
    const std::uint32_t size = wire_u32(bytes, 8, header_->order);
    if (size > kLongestRecord) {
      stop("a record of " + std::to_string(size) + " bytes");
      return true;
    }
    if (bytes.size() < kRecordHeader + size) return false;
    take_record(bytes, size);
    queue_.drop(kRecordHeader + size);
    return true;
  }

  void take_header(std::string_view bytes) {
    header_ = parse_pcap_header(bytes);
    if (!header_) {
      stop("the file header has no pcap magic number");
    } else if (header_->link_type != kLinkTypeCanSocketcan) {
      stop("link type " + std::to_string(header_->link_type) + "; only 227 (CAN) is read");
    } else {
      queue_.drop(PcapHeader::kSize);
    }
  }

  void take_record(std::string_view bytes, std::size_t size) {
    ++block_;
    const std::uint32_t seconds = wire_u32(bytes, 0, header_->order);
    const std::uint32_t fraction =
        wire_u32(bytes, 4, header_->order) / (header_->nanoseconds ? kNanosPerMicro : 1);
    if (fraction >= kMicrosPerSecond) {
      log_.bad_record(block_, "the fraction of the time is a second or more");
      return;
    }
    const TimePoint at = at_micros(static_cast<std::int64_t>(seconds) * kMicrosPerSecond + fraction);
    auto frame = parse_socketcan_packet(bytes.substr(kRecordHeader, size), at, BusName("can0"));
    if (frame) {
      log_.add(*frame);
    } else {
      log_.bad_record(block_, std::move(frame.error()));
    }
  }

  std::optional<PcapHeader> header_;
};

}  // namespace

std::optional<PcapHeader> parse_pcap_header(std::string_view bytes) {
  // offset | size | name:  0 | 4 | magic   4 | 2+2 | version   8 | 8 | zero   16 | 4 | snap length   20 | 4 |
  // link type
  for (const WireOrder order : {WireOrder::little, WireOrder::big}) {
    const std::uint32_t magic = wire_u32(bytes, 0, order);
    if (magic != kMagicMicroseconds && magic != kMagicNanoseconds) continue;
    // The upper 16 bits tell of a frame check sequence, which CAN captures do not have.
    return PcapHeader{order, magic == kMagicNanoseconds,
                      static_cast<std::uint16_t>(wire_u32(bytes, kLinkTypeOffset, order) & 0xFFFFU)};
  }
  return std::nullopt;
}

std::unique_ptr<CaptureReader> make_pcap_reader() {
  return std::make_unique<PcapReader>();
}

}  // namespace sumplog
