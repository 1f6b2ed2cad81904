#include "core/learn/byte_source.h"

#include "core/isotp/addressing.h"
#include "core/item/json_line.h"

namespace sumplog {

std::string text_of(const ByteSource& source) {
  if (source.is_broadcast()) return "frame " + ecu_text(source.from.id);
  constexpr std::uint8_t kLocalIdentifier = 0x21;  // ISO 14230-3: one byte; service 22 has two
  const std::uint8_t bytes[] = {source.service, static_cast<std::uint8_t>(source.identifier >> 8U),
                                static_cast<std::uint8_t>(source.identifier)};
  const std::size_t skip = source.service == kLocalIdentifier ? 2 : 1;
  return hex_text(bytes, 1) + ' ' + hex_text(bytes + skip, 3 - skip) + " of " +
         ecu_text(source.asked->id, source.asked->address);
}

}  // namespace sumplog
