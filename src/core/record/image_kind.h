#pragma once
#include <optional>
#include <string_view>

namespace sumplog {

struct ImageKind {
  std::string_view type;    ///< "image/jpeg"
  std::string_view ending;  ///< ".jpg"
};

/// What the first bytes of a file say it is; nothing: none of the three forms that a job keeps.
/// src  JPEG: ITU-T T.81 B.1.1.3 (SOI, a marker follows) · PNG: ISO/IEC 15948 5.2 · WebP: RFC 9649 2.4 (RIFF, size, WEBP)
[[nodiscard]] std::optional<ImageKind> image_kind(std::string_view bytes);

}  // namespace sumplog
