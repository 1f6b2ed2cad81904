#include "core/vehicle/services.h"

#include <algorithm>
#include <array>
#include <cassert>
#include <string_view>
#include <utility>

#include "core/diagnostics/service.h"
#include "core/vehicle/fault_services.h"
#include "core/vehicle/field_bytes.h"
#include "core/vehicle/parameters.h"

namespace sumplog {
namespace {

using Bytes = std::vector<std::uint8_t>;

/// Negative response codes that are not sent to a functional request. ISO 14229-1
constexpr std::array<std::uint8_t, 5> kNotToAll{0x11, 0x12, 0x31, 0x7E, 0x7F};

constexpr std::array<std::uint8_t, 10> kReadingServices{
    service::kCurrentData,         service::kFreezeFrame,        service::kStoredCodes,
    0x06 /* test results */,       service::kPendingCodes,       service::kVehicleInformation,
    service::kPermanentCodes,      service::kReadDtcInformation, service::kReadDataByLocalIdentifier,
    service::kReadDataByIdentifier};

constexpr std::size_t kMostPids = 6;  // SAE J1979, PIDs in one request

// SAE J1979, information types of service 09
constexpr std::uint8_t kVin = 0x02;
constexpr std::uint8_t kCalibrationId = 0x04;
constexpr std::uint8_t kCvn = 0x06;
constexpr std::uint8_t kEcuName = 0x0A;
constexpr std::size_t kCalibrationIdBytes = 16;
constexpr std::size_t kEcuNameBytes = 20;
constexpr std::size_t kAcronymBytes = 4;

constexpr std::uint16_t kVinDid = 0xF190;  // ISO 14229-1, vehicle identification number

constexpr unsigned kBitsPerByte = 8;

void append(Bytes& to, std::span<const std::uint8_t> bytes) {
  to.insert(to.end(), bytes.begin(), bytes.end());
}

void append_text(Bytes& to, std::string_view text, std::size_t width) {
  for (std::size_t i = 0; i < width; ++i) {
    to.push_back(i < text.size() ? static_cast<std::uint8_t>(text[i]) : std::uint8_t{0});
  }
}

/// "TCM-TransmissionCtl" as four bytes of acronym, a hyphen and fifteen of name, each filled with NUL.
void append_ecu_name(Bytes& to, std::string_view name) {
  const std::size_t hyphen = name.find('-');
  append_text(to, name.substr(0, hyphen), kAcronymBytes);
  to.push_back('-');
  append_text(to, hyphen == std::string_view::npos ? std::string_view{} : name.substr(hyphen + 1),
              kEcuNameBytes - kAcronymBytes - 1);
}

class Answer {
 public:
  Answer(const UnitPlan& unit, const std::string& vin, const FaultMemory& memory,
         const Drivetrain& drivetrain)
      : unit_(unit), vin_(vin), memory_(memory), drivetrain_(drivetrain) {}

  [[nodiscard]] ServiceAnswer to(std::span<const std::uint8_t> request) const {
    if (is_fault_service(request.front())) return answer_from_memory(memory_, request);
    switch (request.front()) {  // wire values: any byte may come
      case service::kCurrentData: return current_data(request);
      case service::kVehicleInformation: return vehicle_information(request);
      case service::kReadDataByIdentifier: return data_by_identifier(request);
      default: return refusal::kServiceNotSupported;
    }
  }

 private:
  [[nodiscard]] ServiceAnswer current_data(std::span<const std::uint8_t> request) const {
    const auto pids = request.subspan(1);
    if (pids.empty() || pids.size() > kMostPids) return refusal::kIncorrectLength;
    Bytes bytes{positive(request)};
    for (const std::uint8_t pid : pids) {
      if (is_bitmap(pid) && has_bitmap(unit_.pids, pid) && !unit_.pids.empty()) {
        bytes.push_back(pid);
        append(bytes, support_bitmap(unit_.pids, pid));
      } else if (std::binary_search(unit_.pids.begin(), unit_.pids.end(), pid)) {
        bytes.push_back(pid);
        append(bytes, FaultMemory::tells(pid) ? memory_.parameter(pid, drivetrain_)
                                              : parameter_bytes(pid, drivetrain_));
      }
    }
    if (bytes.size() == 1) return NoAnswer{};
    return bytes;
  }

  [[nodiscard]] ServiceAnswer vehicle_information(std::span<const std::uint8_t> request) const {
    if (request.size() != 2) return refusal::kIncorrectLength;
    const std::uint8_t type = request[1];
    Bytes bytes{positive(request), type};
    if (type == 0) {  // the bitmap carries no number of items
      const Bytes types = information_types();
      if (types.empty()) return NoAnswer{};
      append(bytes, support_bitmap(types, 0));
      return bytes;
    }
    const Bytes types = information_types();
    if (!std::binary_search(types.begin(), types.end(), type)) return NoAnswer{};
    const bool per_calibration = type == kCalibrationId || type == kCvn;
    bytes.push_back(per_calibration ? static_cast<std::uint8_t>(unit_.calibrations.size()) : std::uint8_t{1});
    switch (type) {  // wire values; the list above holds no others
      case kVin: append_text(bytes, vin_, vin_.size()); break;
      case kCalibrationId:
        for (const auto& one : unit_.calibrations) append_text(bytes, one.id, kCalibrationIdBytes);
        break;
      case kCvn:
        for (const auto& one : unit_.calibrations) {
          for (unsigned i = sizeof one.cvn; i-- > 0;) {
            bytes.push_back(static_cast<std::uint8_t>(one.cvn >> (kBitsPerByte * i)));
          }
        }
        break;
      default: append_ecu_name(bytes, unit_.name);
    }
    return bytes;
  }

  [[nodiscard]] ServiceAnswer data_by_identifier(std::span<const std::uint8_t> request) const {
    const auto dids = request.subspan(1);
    if (dids.empty() || dids.size() % 2 != 0) return refusal::kIncorrectLength;
    Bytes bytes{positive(request)};
    for (std::size_t i = 0; i < dids.size(); i += 2) {
      const auto did = static_cast<std::uint16_t>(dids[i] << kBitsPerByte | dids[i + 1]);
      const auto plan = std::find_if(unit_.dids.begin(), unit_.dids.end(),
                                     [did](const DidPlan& one) { return one.did == did; });
      const bool is_vin = did == kVinDid && unit_.tells_vin;
      if (plan == unit_.dids.end() && !is_vin) continue;
      if (plan != unit_.dids.end()) {
        if (const auto* refused = std::get_if<RefusedRecord>(&plan->record)) {
          return Refusal{refused->negative_code};
        }
      }
      append(bytes, dids.subspan(i, 2));
      if (plan != unit_.dids.end()) {
        append_record(bytes, plan->record);
      } else {
        append_text(bytes, vin_, vin_.size());
      }
    }
    if (bytes.size() == 1) return refusal::kRequestOutOfRange;
    return bytes;
  }

  void append_record(Bytes& bytes, const decltype(DidPlan::record)& record) const {
    if (const auto* constant = std::get_if<ConstantRecord>(&record)) append(bytes, constant->bytes);
    if (const auto* quantity = std::get_if<QuantityRecord>(&record)) {
      append(bytes, quantity->before);
      append(bytes, field_bytes(quantity->coding, quantity->quantity, drivetrain_));
      append(bytes, quantity->after);
    }
  }

  [[nodiscard]] Bytes information_types() const {
    Bytes types;
    if (unit_.tells_vin) types.push_back(kVin);
    if (!unit_.calibrations.empty()) {
      types.push_back(kCalibrationId);
      types.push_back(kCvn);
    }
    if (!unit_.name.empty()) types.push_back(kEcuName);
    return types;
  }

  static std::uint8_t positive(std::span<const std::uint8_t> request) {
    return static_cast<std::uint8_t>(request.front() + service::kPositiveOffset);
  }

  const UnitPlan& unit_;
  const std::string& vin_;
  const FaultMemory& memory_;
  const Drivetrain& drivetrain_;
};

}  // namespace

bool only_reads(std::uint8_t service) {
  return std::find(kReadingServices.begin(), kReadingServices.end(), service) != kReadingServices.end();
}

std::vector<std::uint8_t> negative_response(std::uint8_t service, std::uint8_t code) {
  return {service::kNegativeResponse, service, code};
}

std::optional<std::vector<std::uint8_t>> answer(const UnitPlan& unit, const std::string& vin,
                                                const FaultMemory& memory, const Drivetrain& drivetrain,
                                                std::span<const std::uint8_t> request, bool functional) {
  assert(!request.empty());
  ServiceAnswer made = Answer(unit, vin, memory, drivetrain).to(request);
  if (auto* bytes = std::get_if<Bytes>(&made)) return std::move(*bytes);
  const auto* refused = std::get_if<Refusal>(&made);
  const bool kept_back = refused == nullptr || (functional && std::find(kNotToAll.begin(), kNotToAll.end(),
                                                                        refused->code) != kNotToAll.end());
  if (kept_back) return std::nullopt;
  return negative_response(request.front(), refused->code);
}

}  // namespace sumplog
