#include "core/record/image_kind.h"

namespace sumplog {

using namespace std::string_view_literals;

std::optional<ImageKind> image_kind(std::string_view bytes) {
  constexpr std::size_t kFormAt = 8;  // of a RIFF file: "RIFF" | size, 4 bytes | form
  if (bytes.starts_with("\xFF\xD8\xFF"sv)) return ImageKind{"image/jpeg", ".jpg"};
  if (bytes.starts_with("\x89PNG\r\n\x1A\n"sv)) return ImageKind{"image/png", ".png"};
  if (bytes.starts_with("RIFF"sv) && bytes.size() > kFormAt && bytes.substr(kFormAt).starts_with("WEBP"sv))
    return ImageKind{"image/webp", ".webp"};
  return std::nullopt;
}

}  // namespace sumplog
