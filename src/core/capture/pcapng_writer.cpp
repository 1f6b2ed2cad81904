#include <algorithm>
#include <map>

#include "core/capture/frame_writer.h"
#include "core/capture/pcapng_blocks.h"
#include "core/capture/socketcan_packet.h"
#include "core/capture/wire_bytes.h"

namespace sumplog {
namespace {

using namespace pcapng;  // NOLINT(google-build-using-namespace): the numbers of the form, for this file alone

constexpr WireOrder kOrder = WireOrder::little;
constexpr char kMicroseconds = 6;  // if_tsresol: 10^-6 s

void pad(std::string& text) {
  text.resize((text.size() + kAlignment - 1) / kAlignment * kAlignment);
}

void put_block(std::uint32_t type, const std::string& body, std::string& out) {
  const auto length = static_cast<std::uint32_t>(kBlockFrame + body.size());
  put_u32(out, type, kOrder);
  put_u32(out, length, kOrder);
  out += body;
  put_u32(out, length, kOrder);
}

void put_option(std::uint16_t code, std::string_view value, std::string& out) {
  put_u16(out, code, kOrder);
  put_u16(out, static_cast<std::uint16_t>(value.size()), kOrder);
  out += value;
  pad(out);
}

class PcapngWriter final : public FrameWriter {
 public:
  void on_end(std::string& out) override { put_section(out); }

 private:
  void on_frame(const CanFrame& frame, std::string& out) override {
    put_section(out);
    const std::uint32_t interface = interface_of(frame.bus, out);
    const auto time = static_cast<std::uint64_t>(std::max<std::int64_t>(micros(frame.at), 0));
    const std::string packet = socketcan_packet(frame);
    std::string body;
    put_u32(body, interface, kOrder);
    put_u32(body, static_cast<std::uint32_t>(time >> 32), kOrder);
    put_u32(body, static_cast<std::uint32_t>(time), kOrder);
    put_u32(body, static_cast<std::uint32_t>(packet.size()), kOrder);
    put_u32(body, static_cast<std::uint32_t>(packet.size()), kOrder);
    body += packet;
    pad(body);
    put_block(kEnhancedPacket, body, out);
  }

  void put_section(std::string& out) {
    if (begun_) return;
    begun_ = true;
    std::string body;
    put_u32(body, kByteOrderMagic, kOrder);
    put_u16(body, kMajorVersion, kOrder);
    put_u16(body, 0, kOrder);
    put_number(body, ~std::uint64_t{0}, 8, kOrder);  // the length of the section is not said
    put_block(kSectionHeader, body, out);
  }

  std::uint32_t interface_of(const BusName& bus, std::string& out) {
    const auto [place, is_new] = interfaces_.emplace(bus, static_cast<std::uint32_t>(interfaces_.size()));
    if (is_new) {
      std::string body;
      put_u16(body, kLinkTypeCanSocketcan, kOrder);
      put_u16(body, 0, kOrder);
      put_u32(body, 0, kOrder);  // no limit of packet length
      put_option(kInterfaceName, bus.text(), body);
      put_option(kTimeResolution, std::string_view(&kMicroseconds, 1), body);
      put_option(kEndOfOptions, {}, body);
      put_block(kInterfaceDescription, body, out);
    }
    return place->second;
  }

  bool begun_ = false;
  std::map<BusName, std::uint32_t> interfaces_;
};

}  // namespace

std::unique_ptr<CaptureWriter> make_pcapng_writer() {
  return std::make_unique<PcapngWriter>();
}

}  // namespace sumplog
