#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "core/isotp/message.h"

namespace sumplog {

enum class AddressingMode : std::uint8_t {
  normal,    ///< identifier alone
  extended,  ///< first data byte is the target address (N_TA)
  mixed,     ///< 29-bit 18CExxyy / 18CDxxyy: first data byte is the address extension (N_AE)
};

/// Which way a diagnostic frame travels.
enum class Role : std::uint8_t { functional_request, physical_request, response };

/// What an identifier means to the transport.
struct Addressing {
  Role role = Role::response;
  AddressingMode mode = AddressingMode::normal;
};

/// One pair of identifiers that a decoder names, beside those that ISO 15765-4 fixes.
struct UnitAddress {
  CanId request{};
  CanId response{};
  AddressingMode mode = AddressingMode::normal;
  std::optional<std::uint8_t>
      request_address;  ///< address byte of requests (extended: the unit's; mixed: N_AE)
  std::optional<std::uint8_t>
      response_address;  ///< address byte of responses (extended: the tester's; mixed: N_AE)
  friend bool operator==(const UnitAddress&, const UnitAddress&) = default;
  /// Another pair that has an identifier of this one: both cannot be meant.
  [[nodiscard]] bool meets(const UnitAddress& other) const {
    return !(*this == other) && (request == other.request || response == other.response ||
                                 request == other.response || response == other.request);
  }
};

/// The diagnostic identifiers: 7DF, 7E0–7E7, 7E8–7EF; 18DBxxyy, 18DAxxyy, 18CDxxyy, 18CExxyy (tester F1), and
/// those that decoders name. Pure look-up.
/// src  ISO 15765-4 (11- and 29-bit identifiers), ISO 15765-2 (addressing formats)
class AddressBook {
 public:
  explicit AddressBook(std::vector<UnitAddress> named = {});
  /// nothing when the identifier carries no diagnostic transport.
  [[nodiscard]] std::optional<Addressing> classify(CanId id) const;
  /// The endpoint to which a request must go so that `unit` (a response endpoint) hears it alone.
  [[nodiscard]] std::optional<Endpoint> request_to(const Endpoint& unit) const;
  /// The endpoint from which the addressee of a physical request answers. Nothing for a functional request.
  /// Its address is empty when a named pair leaves the byte of its responses open.
  [[nodiscard]] std::optional<Endpoint> response_of(const Endpoint& request) const;
  /// True when a unit answering from `response` may be meant by `request` (physical: its pair; functional:
  /// same bus and same identifier length).
  [[nodiscard]] bool may_answer(const Endpoint& request, const Endpoint& response) const;
  [[nodiscard]] const std::vector<UnitAddress>& named() const { return named_; }

 private:
  std::vector<UnitAddress> named_;
};

/// "7E9", "18DAF118", with an address byte "6F1/12": how units are named in the journal and typed on the
/// command line.
[[nodiscard]] std::string ecu_text(CanId id, std::optional<std::uint8_t> address = std::nullopt);

}  // namespace sumplog
