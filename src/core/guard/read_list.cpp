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
// The number is published where a source is named; FECC and FED3 are from memory, as are those marked so. A
// decoder can have only published ones asked for.
struct ListedGroup {
  std::uint32_t pgn;
  bool published;
};
constexpr std::array kGroups{
    ListedGroup{0xEE00, true},   // address claimed (J1939-81): linux/can/j1939.h
    ListedGroup{0xFEEC, false},  // vehicle identification, from memory
    ListedGroup{0xFEEB,
                true},  // component identification: DanielMartensson/Open-SAE-J1939, Satkarni/PCE J1939.h
    ListedGroup{0xFEDA, true},   // software identification: the same two
    ListedGroup{0xFDC5, false},  // ECU identification, from memory
    ListedGroup{0xD300, false},  // DM19 calibration information, from memory
    ListedGroup{0xFECA, true},   // DM1 active codes: canboat, docs.rs/j1939
    ListedGroup{0xFECB, true},   // DM2 previously active codes: Satkarni/PCE J1939.h
    ListedGroup{0xFECD, true},   // DM4 freeze frames: nelisbrink/TopDrywer signals_j1939.h
    ListedGroup{0xFECE, false},  // DM5 readiness, from memory
    ListedGroup{0xFECF, false},  // DM6 pending codes, from memory
    ListedGroup{0xFED4, false},  // DM12 emission-related active codes, from memory
    ListedGroup{0xFDB5, false},  // DM23 emission-related previously active codes, from memory
    ListedGroup{0xFDB6, false},  // DM24 supported parameters, from memory
    ListedGroup{0xFD80, false},  // DM28 permanent codes, from memory
    ListedGroup{0xC200, false},  // DM20 monitor performance ratio, from memory
    ListedGroup{0xFEF8, true},   // transmission fluids 1, SPN 177: canboat, GatCode/JohnFear docs/pgnList.md
    ListedGroup{0xF005, true},   // ETC2, gears: canboat, nelisbrink/TopDrywer signals_j1939.h
    ListedGroup{0xF004, true},   // EEC1, engine speed: canboat, famez/J1939-Framework
    ListedGroup{0xFEEE, true},   // engine temperature 1: canboat, GatCode/JohnFear docs/pgnList.md
    ListedGroup{0xFEF1, true},   // cruise control / vehicle speed: famez/J1939-Framework, GatCode/JohnFear
    ListedGroup{0xFEF5, true},   // ambient conditions: GatCode/JohnFear docs/pgnList.md, Satkarni/PCE J1939.h
    ListedGroup{0xFEF7, true},   // vehicle electrical power: the same two
    ListedGroup{0xFEE5, true},   // engine hours: Satkarni/PCE J1939.h
    ListedGroup{0xFEE0, true},   // vehicle distance: nelisbrink/TopDrywer signals_j1939.h
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

bool group_on_list(std::uint32_t pgn) {
  return std::any_of(kGroups.begin(), kGroups.end(), [&](const auto& one) { return one.pgn == pgn; });
}

bool group_published(std::uint32_t pgn) {
  return std::any_of(kGroups.begin(), kGroups.end(),
                     [&](const auto& one) { return one.pgn == pgn && one.published; });
}

}  // namespace sumplog
