#pragma once
#include <cstdint>
#include <map>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "core/decoder/decoder.h"
#include "core/diagnostics/exchange.h"

namespace sumplog {

/// What was asked of whom, in words, and which units that may be there were not asked.
class AskedUnits {
 public:
  explicit AskedUnits(const std::vector<Decoder>& decoders);
  void on_exchange(const Exchange& exchange);

  /// "03 of all units (7DF)", "1902AF of 7E0 to 7E7": each question once, in the order of the first time.
  [[nodiscard]] std::vector<std::string> asked() const;
  /// Identifiers of the standard and units of decoders that no question went to, and what cannot be asked.
  [[nodiscard]] std::vector<std::string> not_asked() const;
  [[nodiscard]] bool was_asked(const Endpoint& request) const;

 private:
  using Question = std::vector<std::uint8_t>;
  std::vector<std::pair<Endpoint, std::string>> named_;
  std::map<std::string, std::set<Endpoint>> ranges_;  ///< request endpoints without their bus, by decoder
  bool j1939_ = false;                                ///< a decoder names a parameter of SAE J1939
  std::vector<Question> questions_;
  std::map<Question, std::set<Endpoint>> of_;  ///< request endpoints without their bus
};

}  // namespace sumplog
