#pragma once
#include <cstdint>
#include <string>
#include <string_view>

namespace sumplog::capture_test {

/// Builds pcap and pcapng captures byte by byte in either byte order, right and wrong ones alike.
/// src  pcap-savefile(5); draft-ietf-opsawg-pcapng
class BinaryCapture {
 public:
  explicit BinaryCapture(bool big_endian) : big_(big_endian) {}

  [[nodiscard]] std::string number(std::uint64_t value, int size) const {
    std::string text;
    for (int i = 0; i < size; ++i) {
      const int shift = 8 * (big_ ? size - 1 - i : i);
      text += static_cast<char>(value >> shift & 0xFF);
    }
    return text;
  }
  [[nodiscard]] std::string u16(std::uint64_t value) const { return number(value, 2); }
  [[nodiscard]] std::string u32(std::uint64_t value) const { return number(value, 4); }

  // pcap
  BinaryCapture& pcap_header(std::uint32_t magic = 0xA1B2C3D4, std::uint32_t link_type = 227) {
    bytes += u32(magic) + u16(2) + u16(4) + u32(0) + u32(0) + u32(0x40000) + u32(link_type);
    return *this;
  }
  BinaryCapture& pcap_record(std::uint32_t seconds, std::uint32_t fraction, std::string_view packet) {
    bytes += u32(seconds) + u32(fraction) + u32(packet.size()) + u32(packet.size());
    bytes += packet;
    return *this;
  }

  // pcapng
  BinaryCapture& block(std::uint32_t type, std::string body) {
    while (body.size() % 4 != 0) body += '\0';
    bytes += u32(type) + u32(body.size() + 12) + body + u32(body.size() + 12);
    return *this;
  }
  BinaryCapture& section(std::uint16_t major = 1) {
    return block(0x0A0D0D0A, u32(0x1A2B3C4D) + u16(major) + u16(0) + number(~std::uint64_t{0}, 8));
  }
  [[nodiscard]] std::string option(std::uint16_t code, std::string_view value) const {
    std::string text = u16(code) + u16(value.size()) + std::string(value);
    while (text.size() % 4 != 0) text += '\xEE';  // padding that must not matter
    return text;
  }
  BinaryCapture& interface(const std::string& options = {}, std::uint16_t link_type = 227) {
    return block(1, u16(link_type) + u16(0) + u32(0) + options);
  }
  BinaryCapture& packet(std::uint32_t interface, std::uint64_t ticks, std::string_view packet,
                        const std::string& options = {}) {
    std::string body = u32(interface) + u32(ticks >> 32) + u32(ticks & 0xFFFFFFFF) + u32(packet.size()) +
                       u32(packet.size()) + std::string(packet);
    while (body.size() % 4 != 0) body += '\xEE';
    return block(6, body + options);
  }

  std::string bytes;

 private:
  bool big_;
};

/// "00 00 07 e8" to bytes.
inline std::string from_hex(std::string_view text) {
  std::string bytes;
  int high = -1;
  for (const char c : text) {
    if (c == ' ') continue;
    const int digit = c <= '9' ? c - '0' : (c | 0x20) - 'a' + 10;
    if (high < 0) {
      high = digit;
    } else {
      bytes += static_cast<char>(high << 4 | digit);
      high = -1;
    }
  }
  return bytes;
}

}  // namespace sumplog::capture_test
