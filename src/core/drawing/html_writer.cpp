#include "core/drawing/html_writer.h"

#include <algorithm>

#include "core/drawing/markup.h"
#include "core/journal/wrapped_text.h"

namespace sumplog {
namespace {

constexpr std::size_t kShort = 24;  // characters that stay on one line: a time, a state
constexpr std::size_t kLongWord =
    26;  // a longer word may be broken, or it would widen its table beyond the page

/// How a cell may be broken.
std::string_view cell_type(std::string_view words) {
  if (columns_of(words) <= kShort) return "short";
  std::size_t begin = 0;
  while (begin < words.size()) {
    const std::size_t end = std::min(words.find(' ', begin), words.size());
    if (columns_of(words.substr(begin, end - begin)) > kLongWord) return "long";
    begin = end + 1;
  }
  return {};
}

}  // namespace

void HtmlWriter::open(std::string_view tag, std::string_view type, std::string_view attributes) {
  out_ += '<';
  out_ += tag;
  if (!type.empty()) out_ += " class=\"" + std::string(type) + "\"";
  if (!attributes.empty()) out_ += " " + std::string(attributes);
  out_ += '>';
  open_.emplace_back(tag);
}

void HtmlWriter::close() {
  out_ += "</" + open_.back() + ">\n";
  open_.pop_back();
}

void HtmlWriter::text(std::string_view words) {
  out_ += escaped(words);
}

void HtmlWriter::element(std::string_view tag, std::string_view words, std::string_view type) {
  if (words.empty()) return;
  open(tag, type);
  text(words);
  close();
}

void HtmlWriter::named_row(std::string_view name, std::string_view words) {
  if (words.empty()) return;
  open("tr");
  open("th", {}, "scope=\"row\"");
  text(name);
  close();
  element("td", words, cell_type(words));
  close();
}

void HtmlWriter::table(const std::vector<std::string>& head,
                       const std::vector<std::vector<std::string>>& rows, std::string_view type) {
  open("table", type);
  open("thead");
  open("tr");
  for (const std::string& name : head) {
    open("th", {}, "scope=\"col\"");
    text(name);
    close();
  }
  close();
  close();
  open("tbody");
  for (const std::vector<std::string>& row : rows) {
    open("tr");
    for (std::size_t i = 0; i < head.size(); ++i) {
      open("td", i < row.size() ? cell_type(row[i]) : std::string_view());
      if (i < row.size()) text(row[i]);
      close();
    }
    close();
  }
  close();
  close();
}

void HtmlWriter::list(const std::vector<std::string>& items, std::string_view type) {
  if (items.empty()) return;
  open("ul", type);
  for (const std::string& item : items) element("li", item);
  close();
}

std::string HtmlWriter::take() {
  while (!open_.empty()) close();
  return std::move(out_);
}

std::string shortened(std::string_view text, std::size_t most) {
  const auto begins = [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; };  // RFC 3629
  if (static_cast<std::size_t>(std::count_if(text.begin(), text.end(), begins)) <= most)
    return std::string(text);
  std::size_t end = 0;
  for (std::size_t characters = 0; end < text.size(); ++end)
    if (begins(text[end]) && characters++ == most) break;
  return std::string(text.substr(0, end)) + "…";
}

}  // namespace sumplog
