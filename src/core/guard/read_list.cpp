#include "core/guard/read_list.h"

#include <algorithm>
#include <array>

namespace sumplog {
namespace {

// One service that may be asked for. Lengths count the service id. The list is here and nowhere else.
struct ListedService {
  std::uint8_t service;
  std::uint8_t shortest;
  std::uint8_t longest;
  std::uint8_t step;  ///< allowed lengths: shortest, shortest + step, … longest
};
constexpr std::array kServices{
    ListedService{0x01, 2, 7, 1},  // SAE J1979 current data: 1…6 PIDs
    ListedService{0x02, 3, 7, 2},  // SAE J1979 freeze frame: 1…3 times PID and frame number
    ListedService{0x03, 1, 1, 1},  // SAE J1979 stored codes
    ListedService{0x06, 2, 2, 1},  // SAE J1979 test results of one monitor
    ListedService{0x07, 1, 1, 1},  // SAE J1979 pending codes
    ListedService{0x09, 2, 2, 1},  // SAE J1979 vehicle information, one InfoType
    ListedService{0x0A, 1, 1, 1},  // SAE J1979 permanent codes
    ListedService{0x21, 2, 2, 1},  // ISO 14230-3 readDataByLocalIdentifier
    ListedService{0x22, 3, 3, 1},  // ISO 14229-1 ReadDataByIdentifier, one identifier
};

constexpr std::uint8_t kReadDtcInformation = 0x19;  // ISO 14229-1
// Its reading sub-functions. The bit 0x80 (suppress positive response) is never set: what is asked is to be
// answered.
struct ListedSubFunction {
  std::uint8_t sub_function;
  std::uint8_t length;
};
constexpr std::array kDtcSubFunctions{
    ListedSubFunction{0x01, 3},  // number of codes by status mask
    ListedSubFunction{0x02, 3},  // codes by status mask
    ListedSubFunction{0x04, 6},  // snapshot record of a code
    ListedSubFunction{0x06, 6},  // extended data record of a code
    ListedSubFunction{0x0A, 2},  // supported codes
};

// SAE J1939 groups that only tell something. DM3 (FECC) and DM11 (FED3) clear codes when they are merely
// asked for: they must never stand here.
// src  FEF8, F005, F004, FEEE: canboat's tables; FEF1: famez/J1939-Framework; FECA: canboat and docs.rs/j1939. All other
//      numbers, FECC and FED3 among them, are from memory: confirm one before anything asks for it.
constexpr std::array<std::uint32_t, 25> kGroups{
    0xEE00,  // address claimed (J1939-81): who is there
    0xFEEC,  // vehicle identification
    0xFEEB,  // component identification
    0xFEDA,  // software identification
    0xFDC5,  // ECU identification
    0xD300,  // DM19 calibration information
    0xFECA,  // DM1 active codes
    0xFECB,  // DM2 previously active codes
    0xFECD,  // DM4 freeze frames
    0xFECE,  // DM5 readiness
    0xFECF,  // DM6 pending codes
    0xFED4,  // DM12 emission-related active codes
    0xFDB5,  // DM23 emission-related previously active codes
    0xFDB6,  // DM24 supported parameters
    0xFD80,  // DM28 permanent codes
    0xC200,  // DM20 monitor performance ratio
    0xFEF8,  // transmission fluids 1: SPN 177
    0xF005,  // ETC2: gears
    0xF004,  // EEC1: engine speed
    0xFEEE,  // engine temperature 1
    0xFEF1,  // cruise control / vehicle speed
    0xFEF5,  // ambient conditions
    0xFEF7,  // vehicle electrical power
    0xFEE5,  // engine hours
    0xFEE0,  // vehicle distance
};

constexpr std::uint32_t kFunctional11 = 0x7DF;       // ISO 15765-4
constexpr std::uint32_t kFirstPhysical11 = 0x7E0;    // ISO 15765-4
constexpr std::uint32_t kLastPhysical11 = 0x7E7;     // ISO 15765-4
constexpr std::uint32_t kLastResponse11 = 0x7EF;     // ISO 15765-4
constexpr std::uint32_t kFunctional29 = 0x18DB33F1;  // ISO 15765-4
constexpr std::uint32_t kPhysical29 = 0x18DA00F1;    // ISO 15765-4, target in bits 8…15
constexpr std::uint32_t kMixed29 = 0x18CE00F1;       // ISO 15765-2 mixed addressing, target in bits 8…15
constexpr std::uint32_t kAllButTarget = 0xFFFF00FF;
constexpr std::uint8_t kTester = 0xF1;       // ISO 15765-4, address of the external test equipment
constexpr std::uint8_t kNullAddress = 0xFE;  // SAE J1939-81
constexpr std::uint32_t kFirstNamed = 0x600;
constexpr std::uint32_t kLastNamed = 0x7FF;

}  // namespace

std::string_view text_of(GuardRefusal refusal) {
  switch (refusal) {
    case GuardRefusal::service_not_listed: return "this service is not on the list of reading services";
    case GuardRefusal::identifier_not_listed:
      return "this identifier is not on the list of request identifiers";
    case GuardRefusal::identifier_in_use: return "somebody else on the bus uses this identifier";
    case GuardRefusal::length_wrong: return "the request has a length that this service does not have";
    case GuardRefusal::sub_function_not_listed: return "this sub-function is not on the list of reading ones";
    case GuardRefusal::no_own_request: return "the unit is not answering a request of ours";
    case GuardRefusal::group_not_listed: return "this parameter group is not on the list";
    case GuardRefusal::flow_control_not_listed:
      return "only 'go on' and 'too long' may be sent as flow control";
  }
  return "";
}

SendingIdentifier sending_identifier(CanId id) {
  if (!id.extended) {
    if (id.value == kFunctional11) return SendingIdentifier::functional;
    if (id.value >= kFirstPhysical11 && id.value <= kLastPhysical11) return SendingIdentifier::physical;
    return SendingIdentifier::none;
  }
  if (id.value == kFunctional29) return SendingIdentifier::functional;
  if (id.value == kAddressClaimId) return SendingIdentifier::address_claim;
  const auto target = static_cast<std::uint8_t>(id.value >> 8);
  const std::uint32_t rest = id.value & kAllButTarget;
  if (rest == kPhysical29 && target != kTester) return SendingIdentifier::physical;
  if (rest == kMixed29 && target != kTester) return SendingIdentifier::mixed;
  const bool may_hear = target != kOurJ1939Address && target != kNullAddress;
  if (rest == (kGroupRequestBase | kOurJ1939Address) && may_hear) return SendingIdentifier::group_request;
  if (rest == (kGroupTransportBase | kOurJ1939Address) && may_hear && target != kGlobalAddress)
    return SendingIdentifier::group_transport;
  return SendingIdentifier::none;
}

bool may_be_named(CanId id) {
  return !id.extended && id.value >= kFirstNamed && id.value <= kLastNamed &&
         (id.value < kFunctional11 || id.value > kLastResponse11);
}

std::optional<GuardRefusal> refuse_request(std::span<const std::uint8_t> payload, std::size_t room) {
  if (payload.empty()) return GuardRefusal::length_wrong;
  if (payload[0] == kReadDtcInformation) {
    if (payload.size() < 2) return GuardRefusal::length_wrong;
    const auto* const found = std::find_if(kDtcSubFunctions.begin(), kDtcSubFunctions.end(),
                                           [&](const auto& one) { return one.sub_function == payload[1]; });
    if (found == kDtcSubFunctions.end()) return GuardRefusal::sub_function_not_listed;
    if (payload.size() != found->length || payload.size() > room) return GuardRefusal::length_wrong;
    return std::nullopt;
  }
  const auto* const found = std::find_if(kServices.begin(), kServices.end(),
                                         [&](const auto& one) { return one.service == payload[0]; });
  if (found == kServices.end()) return GuardRefusal::service_not_listed;
  const std::size_t length = payload.size();
  if (length > room || length < found->shortest || length > found->longest ||
      (length - found->shortest) % found->step != 0)
    return GuardRefusal::length_wrong;
  return std::nullopt;
}

bool service_on_list(std::uint8_t service) {
  return service == kReadDtcInformation ||
         std::any_of(kServices.begin(), kServices.end(),
                     [&](const auto& one) { return one.service == service; });
}

bool group_on_list(std::uint32_t pgn) {
  return std::find(kGroups.begin(), kGroups.end(), pgn) != kGroups.end();
}

}  // namespace sumplog
