# Writes the files of the page as one C++ source, their bytes exactly as they are.
#   cmake -DFOLDER=src/page -DFILES=index.html,js/main.js,… -DOUT=page_files.cpp -P embed.cmake
# Media types: RFC 9239 (JavaScript), RFC 2318 (CSS), RFC 8259 (JSON); text is UTF-8.
set(type_html "text/html; charset=utf-8")
set(type_css "text/css; charset=utf-8")
set(type_js "text/javascript; charset=utf-8")
set(type_json "application/json")
set(type_svg "image/svg+xml")

string(REPLACE "," ";" FILES "${FILES}")
list(SORT FILES)
set(arrays "")
set(rows "")
set(number 0)
foreach(name IN LISTS FILES)
  string(REGEX REPLACE ".*\\." "" suffix "${name}")
  if(NOT DEFINED type_${suffix})
    message(FATAL_ERROR "${FOLDER}/${name}: no media type is known for .${suffix}; add it to embed.cmake")
  endif()
  file(READ "${FOLDER}/${name}" hex HEX)
  string(LENGTH "${hex}" digits)
  math(EXPR size "${digits} / 2")
  # 16 bytes a line: neighbouring literals are joined, and none is longer than a compiler must take.
  string(REGEX REPLACE "(................................)" "\\1\n" bytes "${hex}")
  string(REGEX REPLACE "([0-9a-f][0-9a-f])" "\\\\x\\1" bytes "${bytes}")
  string(REPLACE "\n" "\"\n    \"" bytes "${bytes}")
  string(APPEND arrays "constexpr char kFile${number}[] =\n    \"${bytes}\";\n")
  string(APPEND rows "    Row{\"${name}\", {\"${type_${suffix}}\", {kFile${number}, ${size}}}},\n")
  math(EXPR number "${number} + 1")
endforeach()
file(WRITE "${OUT}.new" "// Made by embed.cmake.
#include \"page/page_files.h\"

#include <algorithm>
#include <array>

namespace sumplog {
namespace {

${arrays}
struct Row {
  std::string_view name;
  PageFile file;
};
constexpr std::array<Row, ${number}> kRows{
${rows}};

}  // namespace

std::optional<PageFile> page_file(std::string_view name) {
  const auto row = std::find_if(kRows.begin(), kRows.end(), [&](const Row& one) { return one.name == name; });
  if (row == kRows.end()) return std::nullopt;
  return row->file;
}

}  // namespace sumplog
")
file(COPY_FILE "${OUT}.new" "${OUT}" ONLY_IF_DIFFERENT)
