#pragma once
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "core/isotp/addressing.h"
#include "core/item/result.h"
#include "core/item/time.h"

namespace sumplog {

/// Where knowledge came from, and so how far it may be trusted. Shown to the technician beside every limit.
enum class Origin : std::uint8_t { standard, service_manual, capture, inferred, invented };
[[nodiscard]] std::string_view text_of(Origin origin);

/// How the unit rounds to its step: decides what a reading says about the true value.
enum class Rounding : std::uint8_t { round, floor, unknown };

enum class ByteOrder : std::uint8_t { big, little };

/// J1979 service 01 parameter.
struct PidSource {
  std::uint8_t pid = 0;
};
/// ISO 14229 service 22 data identifier (or service 21 local identifier) of one unit.
struct DidSource {
  std::uint8_t service = 0x22;
  std::uint16_t did = 0;
};
/// A frame that a unit broadcasts by itself.
struct BroadcastSource {
  CanId id{};
};
/// J1939 parameter: a PGN from one source address (any, when absent).
struct SpnSource {
  std::uint32_t pgn = 0;
  std::uint32_t spn = 0;
  std::optional<std::uint8_t> source_address;
};
using Source = std::variant<PidSource, DidSource, BroadcastSource, SpnSource>;

/// Raw values that stand for "no reading": the bits of the field as they stand, before any sign.
struct RawPattern {
  std::uint64_t low = 0;
  std::uint64_t high = 0;  ///< inclusive
  std::string meaning;     ///< "not available", "error"
};

/// A field of the same bytes that says which signals they carry: this one where it reads `raw`.
struct Multiplexor {
  int start_bit = 0;  ///< counted as that of the signal
  int bit_length = 8;
  ByteOrder byte_order = ByteOrder::big;
  std::uint64_t raw = 0;  ///< bits as they stand, without sign
};

struct CheckVector {
  std::vector<std::uint8_t>
      bytes;  ///< what follows the PID or the DID; the frame's or the group's data otherwise
  std::optional<double> value;  ///< absent: no reading is expected
  int line = 0;
};

/// One quantity and how to get it out of bytes.
/// value = raw * scale + offset, in `unit`; never rounded here.
struct Signal {
  std::string name;  ///< snake case of the standard's own name: "fluid_temperature"
  std::string unit;  ///< one of unit_names(): "degC", "rpm", "km/h", …; never degF, which is converted when a
                     ///< file is read
  Source source{};
  std::optional<std::string>
      unit_id;         ///< which [[ecu]] of the file it is asked from; absent: any that answers
  int length = 0;      ///< bytes of the whole payload after the PID or DID (source's data length)
  int start_bit = 0;   ///< see docs/decoder_format.md: big: most significant bit, little: least
  int bit_length = 8;  ///< 1…64
  ByteOrder byte_order = ByteOrder::big;
  bool is_signed = false;
  std::optional<Multiplexor> multiplexor;  ///< absent: the signal is in every frame of its source
  double scale = 1;
  double offset = 0;
  int decimals = 0;  ///< digits shown behind the point, 0…5
  Rounding rounding = Rounding::unknown;
  double valid_low = 0;   ///< in `unit`
  double valid_high = 0;  ///< in `unit`
  std::vector<RawPattern> no_value;
  std::vector<std::pair<std::int64_t, std::string>>
      labels;              ///< for selector positions and the like: raw, name
  Duration poll_period{};  ///< zero: never asked for
  Origin origin = Origin::invented;
  std::string origin_note;
  std::vector<CheckVector> checks;
  int line = 0;  ///< in its file
};

/// A control unit that the decoder names: an [[ecu]] of the file.
struct Unit {
  std::string id;  ///< "transmission"
  UnitAddress address{};
  int line = 0;
};

/// Neighbouring request identifiers, 11 bit, at which units may be found: a [[range]] of the file. A scan of fault codes
/// asks each of them; nobody need be there.
struct AddressRange {
  CanId first{};
  CanId last{};
  int answer_offset = 0;  ///< a unit answers on its request identifier plus this
  int line = 0;
};

/// decoders/<id>/signals.toml
struct Decoder {
  std::string id;
  std::string title;
  std::string note;  ///< what a technician must know, e.g. that there is no fluid temperature in it
  std::vector<Unit> units;
  std::vector<AddressRange> ranges;
  std::vector<Signal> signals;
};

/// Every pair of identifiers of a range, normal addressing, by rising request.
[[nodiscard]] std::vector<UnitAddress> addresses_of(const AddressRange& range);

enum class DecodeError {
  wrong_length = 1,  ///< payload size differs from the signal's `length`; reading dropped and counted
  not_here,          ///< the multiplexor says that these bytes carry another signal: nothing is missing
  not_available,  ///< the control unit sent its "no value" pattern; shown as "no reading", never as a number
  out_of_range,   ///< outside the signal's `valid` interval; counted, kept as raw hex
};
[[nodiscard]] std::string_view text_of(DecodeError error);

/// Takes a raw value out of bytes.
/// in   data  at least as long as the signal reaches (the caller checked `length`)
/// out  raw   two's complement when signed
[[nodiscard]] std::int64_t raw_value(const Signal& signal, std::span<const std::uint8_t> data);

/// True when these bytes carry the signal: it has no multiplexor, or that reads its value.
/// in   data  at least as long as the signal and its multiplexor reach
[[nodiscard]] bool carries(const Signal& signal, std::span<const std::uint8_t> data);

/// The pattern that says "no value" in these bytes, or nullptr. `meaning` of it is what a person is told.
/// in   data  at least as long as the signal reaches
[[nodiscard]] const RawPattern* no_value_pattern(const Signal& signal, std::span<const std::uint8_t> data);

/// The name that the decoder gives a raw value ("P" for a selector position); empty when it names none.
[[nodiscard]] std::string_view label_of(const Signal& signal, std::int64_t raw);

/// Turns the bytes behind a PID or DID, or a frame's data, into a value in the signal's unit.
/// err  wrong_length · not_here · not_available · out_of_range (checked in this order)
[[nodiscard]] Result<double, DecodeError> decode(const Signal& signal, std::span<const std::uint8_t> data);

/// Reads the text of a signals.toml. `name` is what errors call the file.
/// err  first mistake with `file:line`: unknown key, duplicate id or name, unit outside the list, missing
/// origin, service
///      that is not read-only, low ≥ high, missing or failing check vector …
[[nodiscard]] Result<Decoder> parse_decoder(std::string_view text, const std::string& name);

}  // namespace sumplog
