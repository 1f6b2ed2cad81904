#include "core/learn/byte_source.h"

#include "core/diagnostics/service.h"
#include "core/isotp/addressing.h"
#include "core/item/json_line.h"
#include "core/j1939/identifier.h"

namespace sumplog {

std::string text_of(const ByteSource& source) {
  if (source.group) {
    const std::uint8_t words[] = {static_cast<std::uint8_t>(*source.group >> 8U),
                                  static_cast<std::uint8_t>(*source.group), source_address(source.from.id)};
    const std::string page = *source.group > 0xFFFF ? "1" : "";  // data page, SAE J1939-21
    return "group " + page + hex_text(words, 2) + " from " + hex_text(words + 2, 1);
  }
  if (source.is_broadcast()) return "frame " + ecu_text(source.from.id);
  const std::uint8_t bytes[] = {source.service, static_cast<std::uint8_t>(source.identifier >> 8U),
                                static_cast<std::uint8_t>(source.identifier)};
  // A local identifier has one byte, a data identifier two.
  const std::size_t skip = source.service == service::kReadDataByLocalIdentifier ? 2 : 1;
  return hex_text(bytes, 1) + ' ' + hex_text(bytes + skip, 3 - skip) + " of " +
         ecu_text(source.asked->id, source.asked->address);
}

}  // namespace sumplog
