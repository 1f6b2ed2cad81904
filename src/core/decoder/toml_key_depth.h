#pragma once
#include <optional>
#include <string_view>

namespace sumplog {

/// Dots that one key may have: a.b.c has two. No file of ours needs any.
inline constexpr int kMaxKeyDots = 8;

/// The line of the first key with more dots than that, if there is one.
/// The TOML library limits how deep values nest, but makes one table for each dot of a key without limit, and then works on the
/// tables by recursion: a line of dots would end the program.
/// in   text  TOML, also broken; as far as it is sound, strings and comments are told from keys as TOML 1.0.0 does
[[nodiscard]] std::optional<int> line_of_deep_key(std::string_view text);

}  // namespace sumplog
