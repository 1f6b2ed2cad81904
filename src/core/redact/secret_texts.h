#pragma once
#include <string>
#include <string_view>
#include <vector>

namespace sumplog {

/// Texts that name the vehicle or a person, and the places where they stand in other texts: written in any case, with or
/// without blanks, hyphens and dots between their characters.
class SecretTexts {
 public:
  /// A plate, a VIN, a whole name. What is empty or one character is passed over.
  void add(std::string_view text);
  /// A name's words count too, from four letters on.
  void add_name(std::string_view name);

  /// The text with every secret covered by 'x', of the same length.
  [[nodiscard]] std::string covered(std::string_view text) const;
  /// The same for a text that a program reads: only plates and VINs of five characters or more with a letter among them, and names
  /// of several words.
  [[nodiscard]] std::string covered_unmistakable(std::string_view text) const;

 private:
  std::vector<std::string> whole_;
  std::vector<std::string> unmistakable_;
  std::vector<std::string> words_;
};

}  // namespace sumplog
