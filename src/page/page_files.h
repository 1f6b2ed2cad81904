#pragma once
#include <optional>
#include <string_view>

namespace sumplog {

/// A file of the page, as it lies below src/page.
struct PageFile {
  std::string_view type;  ///< media type for Content-Type
  std::string_view bytes;
};

/// A look-up among the files that were put into the program when it was built (embed.cmake): no path reaches a disk.
/// in   name  below src/page, "js/main.js"; compared byte for byte
/// out  nothing: there is no such file
[[nodiscard]] std::optional<PageFile> page_file(std::string_view name);

}  // namespace sumplog
