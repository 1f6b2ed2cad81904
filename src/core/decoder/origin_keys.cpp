#include "core/decoder/origin_keys.h"

#include <array>

namespace sumplog {

OriginKeys read_origin(const TomlTable& table) {
  constexpr std::array kOrigins = {Origin::standard, Origin::service_manual, Origin::capture,
                                   Origin::inferred, Origin::invented};
  std::array<std::string_view, kOrigins.size()> words{};
  for (std::size_t i = 0; i < words.size(); ++i) words[i] = text_of(kOrigins[i]);

  table.need("origin", "say where it comes from: " + list_text(words));
  OriginKeys out;
  const std::optional<std::size_t> word = table.word("origin", words);
  if (!word) return out;
  out.origin = kOrigins[*word];
  if (out.origin != Origin::invented) table.need("origin_note", "name the document and the place in it");
  out.note = table.text("origin_note").value_or("");
  return out;
}

}  // namespace sumplog
