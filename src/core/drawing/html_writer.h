#pragma once
#include <string>
#include <string_view>
#include <vector>

namespace sumplog {

/// Writes HTML that is well formed by construction: what is opened is closed, and all text is escaped.
class HtmlWriter {
 public:
  /// in   attributes  written as they are: no text of a person
  void open(std::string_view tag, std::string_view type = {}, std::string_view attributes = {});
  void close();
  void text(std::string_view words);
  /// An element with nothing but text; nothing is written for an empty one.
  void element(std::string_view tag, std::string_view words, std::string_view type = {});
  /// A row of a table with a name before it; nothing is written for an empty text.
  void named_row(std::string_view name, std::string_view words);
  /// A table with a head; cells beyond those of the head are left out.
  void table(const std::vector<std::string>& head, const std::vector<std::vector<std::string>>& rows,
             std::string_view type = {});
  void list(const std::vector<std::string>& items, std::string_view type = {});
  /// `markup` is inserted as it is: it must be well formed.
  void raw(std::string_view markup) { out_ += markup; }
  /// Closes what is open; the writer is empty afterwards.
  [[nodiscard]] std::string take();

 private:
  std::string out_;
  std::vector<std::string> open_;
};

/// Cut behind so many characters, with "…"; UTF-8 is cut between characters.
[[nodiscard]] std::string shortened(std::string_view text, std::size_t most);

}  // namespace sumplog
