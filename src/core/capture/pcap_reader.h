#pragma once
#include <memory>
#include <optional>
#include <string_view>

#include "core/capture/reader.h"
#include "core/capture/wire_bytes.h"

namespace sumplog {

/// The file header of a pcap capture.
struct PcapHeader {
  static constexpr std::size_t kSize = 24;
  WireOrder order = WireOrder::little;
  bool nanoseconds = false;
  std::uint16_t link_type = 0;
};
/// in  at least kSize bytes; nothing when the magic number is none of the four
[[nodiscard]] std::optional<PcapHeader> parse_pcap_header(std::string_view bytes);

/// Reads a pcap capture with link type 227, either byte order, microseconds or nanoseconds. The form names no
/// interface: the bus is can0. Records are counted from 1, as frame numbers are elsewhere.
/// src  pcap-savefile(5)
[[nodiscard]] std::unique_ptr<CaptureReader> make_pcap_reader();

}  // namespace sumplog
