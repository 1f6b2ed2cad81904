#include "core/capture/pcapng_reader.h"

#include <cassert>
#include <limits>
#include <vector>

#include "core/capture/block_reader.h"
#include "core/capture/bus_names.h"
#include "core/capture/pcapng_blocks.h"
#include "core/capture/socketcan_packet.h"
#include "core/capture/wire_bytes.h"

namespace sumplog {
namespace {

using namespace pcapng;  // NOLINT(google-build-using-namespace): the numbers of the form, for this file alone

constexpr std::size_t padded(std::size_t size) {
  return (size + kAlignment - 1) / kAlignment * kAlignment;
}

/// Walks the options of a block. offset | size | name:  0 | 2 | code   2 | 2 | length   4 | n | value, padded
/// to 4
class Options {
 public:
  Options(std::string_view bytes, WireOrder order) : rest_(bytes), order_(order) {}
  /// False at the end, and when the options are malformed.
  bool next() {
    constexpr std::size_t kHeader = 4;
    if (rest_.empty()) return false;
    assert(rest_.size() >= kHeader);  // a block has whole words of four bytes, and so has each option
    code = wire_u16(rest_, 0, order_);
    const std::size_t size = wire_u16(rest_, 2, order_);
    if (code == kEndOfOptions) return false;
    if (rest_.size() - kHeader < padded(size)) return fail();
    value = rest_.substr(kHeader, size);
    rest_.remove_prefix(kHeader + padded(size));
    return true;
  }
  [[nodiscard]] bool malformed() const { return malformed_; }
  /// The value as a number of exactly `size` bytes.
  [[nodiscard]] std::optional<std::uint64_t> number(std::size_t size) const {
    if (value.size() != size) return std::nullopt;
    return wire_number(value, 0, size, order_);
  }

  std::uint16_t code = 0;
  std::string_view value;

 private:
  bool fail() {
    malformed_ = true;
    return false;
  }
  std::string_view rest_;
  WireOrder order_;
  bool malformed_ = false;
};

struct Interface {
  std::uint16_t link_type = 0;
  bool usable = false;  ///< its description was understood
  BusName bus;
  PcapngClock clock;
  std::uint64_t drops_told = 0;
};

/// Byte order of the section whose header starts here; at least 12 bytes. Nothing: no byte order magic.
std::optional<WireOrder> section_order(std::string_view block) {
  for (const WireOrder order : {WireOrder::little, WireOrder::big}) {
    if (wire_u32(block, kBodyOffset, order) == kByteOrderMagic) return order;
  }
  return std::nullopt;
}

class PcapngReader final : public BlockReader {
 private:
  bool step() override {
    if (queue_.skipping()) return false;
    const std::string_view bytes = queue_.view();
    if (skipped_length_) return end_skip(bytes);
    if (bytes.size() < kBlockFrame) return false;
    // Whether the type is a section header can be told in either byte order; the length needs the section's
    // own.
    const std::uint32_t type = wire_u32(bytes, 0, order_);
    if (type == kSectionHeader) {
      const auto order = section_order(bytes);
      if (!order) {
        stop("a section header without byte order magic");
        return true;
      }
      order_ = *order;
    } else if (block_ == 0) {
      stop("the first block is no section header");
      return true;
    }
    const std::uint32_t length = wire_u32(bytes, 4, order_);
    if (length < kBlockFrame || length % kAlignment != 0) {
      stop("a block of " + std::to_string(length) + " bytes");
      return true;
    }
    if (length > kMaxRecord) {
      skip(type, length);
      return true;
    }
    if (bytes.size() < length) return false;
    if (wire_u32(bytes, length - kAlignment, order_) != length) {
      stop("the two lengths of the block differ");
      return true;
    }
    ++block_;
    if (auto why = on_block(type, bytes.substr(kBodyOffset, length - kBlockFrame)))
      log_.bad_record(block_, std::move(*why));
    queue_.drop(length);
    return true;
  }

  void skip(std::uint32_t type, std::uint32_t length) {
    if (type <= kEnhancedPacket || type == kSectionHeader) {
      stop("a block of type " + std::to_string(type) + " with " + std::to_string(length) + " bytes");
      return;
    }
    skipped_length_ = length;
    queue_.skip(length - kAlignment);
  }

  bool end_skip(std::string_view bytes) {
    if (bytes.size() < kAlignment) return false;
    if (wire_u32(bytes, 0, order_) != *skipped_length_) {
      stop("the two lengths of the block differ");
      return true;
    }
    queue_.drop(kAlignment);
    queue_.end_skip();
    skipped_length_.reset();
    ++block_;
    return true;
  }

  using Clause = std::optional<std::string>;  // what is wrong; nothing when all is well

  Clause on_block(std::uint32_t type, std::string_view body) {
    if (type == kSectionHeader) return on_section(body);
    if (!section_known_) return std::nullopt;  // said when the section began
    switch (type) {
      case kInterfaceDescription: return on_interface(body);
      case kEnhancedPacket: return on_enhanced_packet(body);
      case kPacket: return on_packet(body);
      case kSimplePacket: return on_simple_packet();
      case kInterfaceStatistics: return on_statistics(body);
      default: return std::nullopt;  // an open set: the form asks readers to pass over what they do not know
    }
  }

  /// offset | size | name:  0 | 4 | byte order magic   4 | 2 | major   6 | 2 | minor   8 | 8 | section length
  Clause on_section(std::string_view body) {
    constexpr std::size_t kFixed = 16;
    interfaces_.clear();
    section_known_ = false;
    if (body.size() < kFixed) return "the section header is too short; the section is left out";
    const unsigned major = wire_u16(body, 4, order_);
    if (major != kMajorVersion)
      return "version " + std::to_string(major) + " of the form is not known; the section is left out";
    section_known_ = true;
    return std::nullopt;
  }

  /// offset | size | name:  0 | 2 | link type   2 | 2 | reserved   4 | 4 | snap length   8 | … | options
  Clause on_interface(std::string_view body) {
    constexpr std::size_t kFixed = 8;
    const std::size_t index = interfaces_.size();
    Interface& entry = interfaces_.emplace_back();
    if (body.size() < kFixed) return "the interface description is too short";
    entry.link_type = wire_u16(body, 0, order_);
    std::string name;
    bool good = true;
    Options options(body.substr(kFixed), order_);
    while (options.next()) {
      if (options.code == kInterfaceName) {
        name = options.value.substr(0, options.value.find('\0'));
      } else if (options.code == kTimeResolution) {
        const auto resolution = options.number(1);
        good = good && resolution.has_value();
        entry.clock.resolution = static_cast<std::uint8_t>(resolution.value_or(0));
      } else if (options.code == kTimeOffset) {
        const auto offset = options.number(8);
        good = good && offset.has_value();
        entry.clock.offset_s = static_cast<std::int64_t>(offset.value_or(0));
      }
    }
    if (options.malformed() || !good) return "the options of the interface description are malformed";
    if (name.empty()) name = "can" + std::to_string(index);
    if (entry.link_type != kLinkTypeCanSocketcan) {
      return "interface '" + name + "' has link type " + std::to_string(entry.link_type) +
             "; only 227 (CAN) is read, its packets are left out";
    }
    entry.bus = buses_.bus_of(name);
    entry.usable = true;
    return std::nullopt;
  }

  /// offset | size | name:  0 | 4 | interface   4 | 4 | time, high   8 | 4 | time, low   12 | 4 | bytes here
  ///                        16 | 4 | bytes on the wire   20 | n | packet, padded to 4   … | options
  Clause on_enhanced_packet(std::string_view body) {
    constexpr std::size_t kFixed = 20;
    if (body.size() < kFixed) return "the packet block is too short";
    const std::size_t size = wire_u32(body, 12, order_);
    if (size > body.size() - kFixed) return "the packet is longer than its block";
    std::uint64_t drops = 0;
    Options options(body.substr(std::min(body.size(), kFixed + padded(size))), order_);
    while (options.next()) {
      if (options.code == kPacketDropCount) drops = options.number(8).value_or(0);
    }
    return on_captured(wire_u32(body, 0, order_), ticks_at(body, 4), drops, body.substr(kFixed, size));
  }

  /// offset | size | name:  0 | 2 | interface   2 | 2 | packets lost before   4 | 4 | time, high   8 | 4 |
  /// time, low
  ///                        12 | 4 | bytes here   16 | 4 | bytes on the wire   20 | n | packet
  Clause on_packet(std::string_view body) {
    constexpr std::size_t kFixed = 20;
    if (body.size() < kFixed) return "the packet block is too short";
    const std::size_t size = wire_u32(body, 12, order_);
    if (size > body.size() - kFixed) return "the packet is longer than its block";
    const std::uint16_t drops = wire_u16(body, 2, order_);
    return on_captured(wire_u16(body, 0, order_), ticks_at(body, 4), drops == kDropCountUnknown ? 0 : drops,
                       body.substr(kFixed, size));
  }

  Clause on_simple_packet() const {
    if (!interfaces_.empty() && interfaces_.front().link_type != kLinkTypeCanSocketcan) return std::nullopt;
    return "a simple packet block carries no time";
  }

  /// offset | size | name:  0 | 4 | interface   4 | 4 | time, high   8 | 4 | time, low   12 | … | options
  Clause on_statistics(std::string_view body) {
    constexpr std::size_t kFixed = 12;
    if (body.size() < kFixed) return "the statistics block is too short";
    const std::uint32_t index = wire_u32(body, 0, order_);
    if (index >= interfaces_.size())
      return "the block speaks of interface " + std::to_string(index) + ", which was not described";
    Interface& entry = interfaces_[index];
    if (!entry.usable) return std::nullopt;
    std::uint64_t total = 0;
    Options options(body.substr(kFixed), order_);
    while (options.next()) {
      if (options.code == kStatisticsIfDrop || options.code == kStatisticsOsDrop)
        total += options.number(8).value_or(0);
    }
    const auto at = pcapng_micros(ticks_at(body, 4), entry.clock);
    if (!at) return "the time is out of range";
    if (total > entry.drops_told) tell_drops(entry, *at, total - entry.drops_told);
    return std::nullopt;
  }

  Clause on_captured(std::uint32_t index, std::uint64_t ticks, std::uint64_t drops, std::string_view packet) {
    if (index >= interfaces_.size())
      return "the packet is of interface " + std::to_string(index) + ", which was not described";
    Interface& entry = interfaces_[index];
    if (!entry.usable) {
      if (entry.link_type != kLinkTypeCanSocketcan)
        return std::nullopt;  // said when the interface was described
      return "the packet is of an interface whose description could not be read";
    }
    const auto at = pcapng_micros(ticks, entry.clock);
    if (!at) return "the time is out of range";
    if (drops > 0) tell_drops(entry, *at, drops);
    auto frame = parse_socketcan_packet(packet, at_micros(*at), entry.bus);
    if (!frame) return std::move(frame.error());
    log_.add(*frame);
    return std::nullopt;
  }

  void tell_drops(Interface& entry, std::int64_t at, std::uint64_t count) {
    entry.drops_told += count;
    log_.add(ReceiveDrops{at_micros(at), entry.bus, count});
  }

  std::uint64_t ticks_at(std::string_view body, std::size_t offset) const {
    return std::uint64_t{wire_u32(body, offset, order_)} << 32 | wire_u32(body, offset + 4, order_);
  }

  WireOrder order_ = WireOrder::little;
  bool section_known_ = false;
  std::vector<Interface> interfaces_;  ///< of this section
  BusNames buses_;
  std::optional<std::uint32_t> skipped_length_;
};

}  // namespace

std::optional<std::int64_t> pcapng_micros(std::uint64_t ticks, const PcapngClock& clock) {
  __extension__ using Wide = unsigned __int128;  // 64 bits of ticks by a million
  constexpr std::uint64_t kMicrosPerSecond = 1000000;
  constexpr std::uint8_t kPowerOfTwo = 0x80;
  constexpr unsigned kMicroPlaces = 6;
  constexpr unsigned kMostPlaces = 25;  // 2^64 ticks of 10^-26 s are less than a microsecond
  constexpr auto kMax = static_cast<Wide>(std::numeric_limits<std::int64_t>::max());
  const unsigned places = clock.resolution & (kPowerOfTwo - 1U);
  Wide us = ticks;
  if ((clock.resolution & kPowerOfTwo) != 0) {
    us = us * kMicrosPerSecond >> places;
  } else if (places > kMostPlaces) {
    us = 0;
  } else {
    for (unsigned i = places; i < kMicroPlaces; ++i) us *= 10;
    for (unsigned i = kMicroPlaces; i < places; ++i) us /= 10;
  }
  if (us > kMax) return std::nullopt;
  constexpr std::int64_t kMaxOffset =
      std::numeric_limits<std::int64_t>::max() / static_cast<std::int64_t>(kMicrosPerSecond);
  if (clock.offset_s > kMaxOffset || clock.offset_s < -kMaxOffset) return std::nullopt;
  const std::int64_t offset = clock.offset_s * static_cast<std::int64_t>(kMicrosPerSecond);
  const auto whole = static_cast<std::int64_t>(us);
  if (offset > 0 && whole > std::numeric_limits<std::int64_t>::max() - offset) return std::nullopt;
  return whole + offset;
}

std::optional<std::uint16_t> pcapng_foreign_link_type(std::string_view beginning) {
  std::optional<std::uint16_t> foreign;
  WireOrder order = WireOrder::little;
  while (beginning.size() >= kBlockFrame) {
    const std::uint32_t type = wire_u32(beginning, 0, order);
    if (type == kSectionHeader) order = section_order(beginning).value_or(order);
    const std::uint32_t length = wire_u32(beginning, 4, order);
    if (length < kBlockFrame) break;
    if (type == kInterfaceDescription) {
      const std::uint16_t link_type = wire_u16(beginning, kBodyOffset, order);
      if (link_type == kLinkTypeCanSocketcan) return std::nullopt;
      if (!foreign) foreign = link_type;
    }
    if (length > beginning.size()) break;
    beginning.remove_prefix(length);
  }
  return foreign;
}

std::unique_ptr<CaptureReader> make_pcapng_reader() {
  return std::make_unique<PcapngReader>();
}

}  // namespace sumplog
