#pragma once
#include <map>
#include <string>
#include <string_view>
#include <vector>

namespace sumplog {

/// What stands in a redacted copy where a VIN stood: "XXXXXXXX5XXXXXX00", of 17 characters too. The same VIN has the same filler
/// and another one another, so whether the typed and the read one agree is still seen; the check digit holds where it held.
class VinFillers {
 public:
  /// The filler of a text that is or may be a VIN, of the same length: blanks and hyphens stay where they are,
  /// and small letters stay small.
  /// What is no VIN becomes a filler as well; the end of a VIN that came before becomes the end of its filler.
  [[nodiscard]] std::string filler(std::string_view text);

  /// All VINs so far, in capitals, and their fillers.
  [[nodiscard]] const std::map<std::string, std::string>& known() const { return known_; }
  /// Texts that were no VIN (in capitals), in order: they too must not stand in a copy.
  [[nodiscard]] const std::vector<std::string>& others() const { return others_; }

 private:
  [[nodiscard]] std::string filler_of(const std::string& vin);

  std::map<std::string, std::string> known_;
  std::vector<std::string> others_;
};

}  // namespace sumplog
