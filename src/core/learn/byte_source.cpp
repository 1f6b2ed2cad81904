#include "core/learn/byte_source.h"

#include "core/diagnostics/service.h"
#include "core/isotp/addressing.h"
#include "core/item/json_line.h"

namespace sumplog {

std::string text_of(const ByteSource& source) {
  if (source.is_broadcast()) return "frame " + ecu_text(source.from.id);
  const std::uint8_t bytes[] = {source.service, static_cast<std::uint8_t>(source.identifier >> 8U),
                                static_cast<std::uint8_t>(source.identifier)};
  // A local identifier has one byte, a data identifier two.
  const std::size_t skip = source.service == service::kReadDataByLocalIdentifier ? 2 : 1;
  return hex_text(bytes, 1) + ' ' + hex_text(bytes + skip, 3 - skip) + " of " +
         ecu_text(source.asked->id, source.asked->address);
}

}  // namespace sumplog
