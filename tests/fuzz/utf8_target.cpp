#include <nlohmann/json.hpp>

#include "core/item/compared_form.h"
#include "core/item/json_line.h"
#include "core/item/member_name.h"
#include "core/item/utf8.h"
#include "core/journal/wrapped_text.h"
#include "fuzz/target.h"

namespace sumplog::fuzz {
namespace {

void take(Bytes bytes) {
  const std::string_view text = text_of(bytes);
  std::size_t characters = 0;
  bool valid = true;
  for (std::size_t at = 0; at < text.size(); ++characters) {
    const std::size_t length = utf8_length(text, at);
    require(length <= 4 && at + length <= text.size(), "a character goes beyond the text");
    valid = valid && length > 0;
    at += std::max<std::size_t>(length, 1);
  }
  if (valid) require(columns_of(text) == characters, "columns and characters differ");

  // The library judges UTF-8 by itself: what we write it must accept.
  const auto parsed = nlohmann::json::parse(json_string(text), nullptr, false);
  require(parsed.is_string(), "a JSON text is no text");
  if (valid) require_same(parsed.get<std::string>(), std::string(text), "a JSON text changes");

  const std::string compared = compared_form(text);
  if (valid) require_same(compared, compared_form(compared), "the compared form is not final");
  if (is_safe_member_name(text)) {
    require(!text.empty() && text[0] != '/' && text.size() <= 100, "an unsafe name passes");
    require(("/" + std::string(text) + "/").find("/../") == std::string::npos,
            "a name leads out of its folder");
  }
}
const Registered kTarget("utf8", take);

}  // namespace
}  // namespace sumplog::fuzz
