#include "core/decoder/file_head.h"

namespace sumplog {
namespace {

constexpr std::int64_t kFormat = 1;
constexpr std::int64_t kLatestFormat = 1000;  // a larger number is a slip

bool is_folder_name(std::string_view text) {
  return text.find_first_not_of("abcdefghijklmnopqrstuvwxyz0123456789-_") == std::string_view::npos;
}

}  // namespace

FileHead read_file_head(const TomlTable& top) {
  top.need("format", "write 'format = 1' at the top");
  const std::int64_t format = top.integer("format", 0, kLatestFormat).value_or(kFormat);
  if (format != kFormat) {
    top.mistake(top.line_of("format"), "the file has format " + std::to_string(format) +
                                           ", this program reads format " + std::to_string(kFormat));
  }
  FileHead out;
  out.id = top.need_text("id");
  out.title = top.need_text("title");
  if (!is_folder_name(out.id)) {
    top.mistake(top.line_of("id"), "the id must be lower-case letters, digits, '-' and '_', like its folder");
  }
  return out;
}

}  // namespace sumplog
