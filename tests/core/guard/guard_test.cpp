#include "core/guard/guard.h"

#include <gtest/gtest.h>

#include <map>
#include <set>
#include <string>
#include <type_traits>

namespace sumplog {
namespace {

using std::chrono::milliseconds;
using std::chrono::seconds;
using Bytes = std::vector<std::uint8_t>;

// Only the guard makes what the socket sends.
static_assert(!std::is_default_constructible_v<GuardedFrame>);
static_assert(!std::is_constructible_v<GuardedFrame, CanFrame>);
static_assert(!std::is_constructible_v<GuardedFrame, const CanFrame&>);
static_assert(!std::is_convertible_v<CanFrame, GuardedFrame>);
static_assert(!std::is_assignable_v<GuardedFrame&, const CanFrame&>);
static_assert(!std::is_aggregate_v<GuardedFrame>);
static_assert(std::is_final_v<GuardedFrame>);
static_assert(std::is_same_v<decltype(std::declval<GuardedFrame&>().frame()), const CanFrame&>);

const BusName kBus{"can0"};

// The list once more, typed from the standards' pages and not from the guard's own table:
// SAE J1979 services 01 02 03 06 07 09 0A, ISO 14230-3 service 21, ISO 14229-1 services 19 and 22. Lengths
// count the service id.
const std::map<int, std::set<std::size_t>> kLengthsOfService{{0x01, {2, 3, 4, 5, 6, 7}},
                                                             {0x02, {3, 5, 7}},
                                                             {0x03, {1}},
                                                             {0x06, {2}},
                                                             {0x07, {1}},
                                                             {0x09, {2}},
                                                             {0x0A, {1}},
                                                             {0x19, {2, 3, 6}},
                                                             {0x21, {2}},
                                                             {0x22, {3}}};
// ISO 14229-1 ReadDTCInformation, request layouts: mask; mask; code and record; code and record; nothing.
const std::map<int, std::size_t> kLengthOfSubFunction19{
    {0x01, 3}, {0x02, 3}, {0x04, 6}, {0x06, 6}, {0x0A, 2}};

bool on_the_list(const Bytes& payload, std::size_t room) {
  if (payload.empty() || payload.size() > room) return false;
  const auto service = kLengthsOfService.find(payload[0]);
  if (service == kLengthsOfService.end() || !service->second.contains(payload.size())) return false;
  if (payload[0] != 0x19) return true;
  const auto sub = kLengthOfSubFunction19.find(payload[1]);
  return sub != kLengthOfSubFunction19.end() && sub->second == payload.size();
}

UnitAddress normal_pair(std::uint32_t request, std::uint32_t response) {
  return {standard_id(request), standard_id(response), AddressingMode::normal, std::nullopt, std::nullopt};
}
UnitAddress extended_pair(std::uint32_t request, std::uint8_t to, std::uint32_t response, std::uint8_t from) {
  return {standard_id(request), standard_id(response), AddressingMode::extended, to, from};
}

Endpoint at(CanId id, std::optional<std::uint8_t> address = std::nullopt) {
  return {kBus, id, address};
}

class GuardTest : public ::testing::Test {
 protected:
  GuardTest() : guard_(AddressBook{{normal_pair(0x702, 0x70A), extended_pair(0x6F1, 0x18, 0x618, 0xF1)}}) {}

  void wait(Duration d) { now_ += d; }

  Result<GuardedFrame, GuardRefusal> build(const Endpoint& to, const Bytes& payload) {
    return guard_.build(Request{to, payload}, now_);
  }
  /// Builds the request and lets the bus give it back.
  void ask(const Endpoint& to, const Bytes& payload) {
    const auto built = build(to, payload);
    ASSERT_TRUE(built.has_value()) << text_of(built.error());
    wait(milliseconds{1});
    auto echo = built->frame();
    echo.at = now_;
    guard_.on_frame(echo);
  }
  void hear(CanId id, const Bytes& bytes) { guard_.on_frame(data_frame(now_, kBus, id, bytes)); }
  Result<GuardedFrame, GuardRefusal> flow(CanId id, const Bytes& bytes) {
    return guard_.build_flow_control(data_frame(now_, kBus, id, bytes), now_);
  }
  static Bytes bytes_of(const Result<GuardedFrame, GuardRefusal>& built) {
    if (!built) return {};
    const auto data = built->frame().data();
    return {data.begin(), data.end()};
  }

  TimePoint now_ = at_micros(1'700'000'000'000'000);
  Guard guard_;
};

#define EXPECT_REFUSED(result, reason)                \
  do {                                                \
    const auto outcome = (result);                    \
    ASSERT_FALSE(outcome.has_value());                \
    EXPECT_EQ(outcome.error(), GuardRefusal::reason); \
  } while (false)

const Bytes kReadDid{0x22, 0xF1, 0x90};
const Bytes kGoOn{0x30, 0x00, 0x00};
// ISO 15765-2 first frame of 20 bytes: the beginning of a positive answer to 22 F1 90.
const Bytes kFirstFrame{0x10, 0x14, 0x62, 0xF1, 0x90, 0x31, 0x32, 0x33};

TEST_F(GuardTest, BuildsASingleFrameOfEightBytesPaddedWithCC) {
  // ISO 15765-4: request frames have eight bytes; ISO 15765-2: CC is the recommended padding.
  const auto built = build(at(standard_id(0x7E1)), kReadDid);
  EXPECT_EQ(bytes_of(built), (Bytes{0x03, 0x22, 0xF1, 0x90, 0xCC, 0xCC, 0xCC, 0xCC}));
  ASSERT_TRUE(built);
  EXPECT_EQ(built->frame().id, standard_id(0x7E1));
  EXPECT_EQ(built->frame().bus, kBus);
  EXPECT_FALSE(built->frame().fd);
  EXPECT_EQ(built->frame().kind, FrameKind::data);
}

TEST_F(GuardTest, PutsTheAddressByteInFrontOfExtendedAndMixedRequests) {
  EXPECT_EQ(bytes_of(build(at(standard_id(0x6F1), 0x18), kReadDid)),
            (Bytes{0x18, 0x03, 0x22, 0xF1, 0x90, 0xCC, 0xCC, 0xCC}));
  EXPECT_EQ(bytes_of(build(at(extended_id(0x18CE18F1), 0x05), kReadDid)),
            (Bytes{0x05, 0x03, 0x22, 0xF1, 0x90, 0xCC, 0xCC, 0xCC}));
}

TEST_F(GuardTest, LetsOnlyTheListPassForEveryServiceLengthSubFunctionAndIdentifierClass) {
  struct Place {
    Endpoint to;
    std::size_t room;  // 0: not a request identifier at all
  };
  const std::vector<Place> places{{at(standard_id(0x7DF)), 7},         {at(standard_id(0x7E0)), 7},
                                  {at(standard_id(0x7E7)), 7},         {at(extended_id(0x18DB33F1)), 7},
                                  {at(extended_id(0x18DA18F1)), 7},    {at(extended_id(0x18CE18F1), 0x05), 6},
                                  {at(standard_id(0x702)), 7},         {at(standard_id(0x6F1), 0x18), 6},
                                  {at(standard_id(0x7E8)), 0},         {at(standard_id(0x7EF)), 0},
                                  {at(standard_id(0x000)), 0},         {at(standard_id(0x5FF)), 0},
                                  {at(standard_id(0x703)), 0},         {at(standard_id(0x70A)), 0},
                                  {at(standard_id(0x6F1)), 0},         {at(standard_id(0x6F1), 0x19), 0},
                                  {at(standard_id(0x702), 0x18), 0},   {at(standard_id(0x7E0), 0x18), 0},
                                  {at(standard_id(0x7DF), 0x18), 0},   {at(extended_id(0x7DF)), 0},
                                  {at(extended_id(0x7E0)), 0},         {at(extended_id(0x18DAF118)), 0},
                                  {at(extended_id(0x18DAF1F1)), 0},    {at(extended_id(0x18DB33F2)), 0},
                                  {at(extended_id(0x18DA18F1), 5), 0}, {at(extended_id(0x18CE18F1)), 0},
                                  {at(extended_id(0x18CEF118), 5), 0}, {at(extended_id(0x18FEF8F9)), 0},
                                  {at(extended_id(0x18EEFFF9)), 0},    {at(extended_id(0x18EC03F9)), 0}};
  std::size_t passed = 0;
  for (const auto& place : places) {
    for (int service = 0; service <= 0xFF; ++service) {
      for (std::size_t length = 0; length <= 9; ++length) {
        const int last_second = service == 0x19 ? 0xFF : 4;
        for (int second = 0; second <= last_second; ++second) {
          constexpr std::array<std::uint8_t, 5> kSome{0x00, 0x01, 0x10, 0x82, 0xFF};
          Bytes payload(length, 0x5A);
          if (length > 0) payload[0] = static_cast<std::uint8_t>(service);
          if (length > 1)
            payload[1] =
                service == 0x19 ? static_cast<std::uint8_t>(second) : kSome[static_cast<std::size_t>(second)];
          const auto built = build(place.to, payload);
          ASSERT_EQ(built.has_value(), on_the_list(payload, place.room))
              << ecu_text(place.to.id, place.to.address) << " service " << service << " length " << length
              << " second byte " << second;
          passed += built.has_value() ? 1U : 0U;
        }
      }
    }
  }
  EXPECT_GT(passed, 0U);
}

TEST_F(GuardTest, LetsOnlyTheListedIdentifiersPassAmongAllElevenBitOnes) {
  for (std::uint32_t id = 0; id <= 0x7FF; ++id) {
    const bool listed = id == 0x7DF || (id >= 0x7E0 && id <= 0x7E7) || id == 0x702;
    EXPECT_EQ(build(at(standard_id(id)), kReadDid).has_value(), listed) << std::hex << id;
    EXPECT_FALSE(build(at(extended_id(id)), kReadDid).has_value()) << std::hex << id;
  }
}

TEST_F(GuardTest, LetsOnlyTheListedIdentifiersPassAmongAllThatEndInATesterAddress) {
  for (std::uint32_t upper = 0; upper <= 0x1FFFFF; ++upper) {
    // Every value of bits 8…28 would be 2 million; the priorities that no tester uses are sampled.
    const std::uint32_t priority = upper >> 18;
    if (priority != 6 && upper % 31 != 0) continue;
    for (const std::uint32_t source : {0xF1U, 0xF9U}) {
      const std::uint32_t id = upper << 8 | source;
      const std::uint32_t target = id >> 8 & 0xFF;
      const bool functional = id == 0x18DB33F1;
      const bool physical = source == 0xF1 && id >> 16 == 0x18DA && target != 0xF1;
      ASSERT_EQ(build(at(extended_id(id)), kReadDid).has_value(), functional || physical) << std::hex << id;
      const bool mixed = source == 0xF1 && id >> 16 == 0x18CE && target != 0xF1;
      ASSERT_EQ(build(at(extended_id(id), 0x05), kReadDid).has_value(), mixed) << std::hex << id;
      // SAE J1939-21 request (PGN EA00); the payload asks for PGN FEF8. FE is the null address, F9 our own.
      const bool request = source == 0xF9 && id >> 16 == 0x18EA && target != 0xF9 && target != 0xFE;
      ASSERT_EQ(build(at(extended_id(id)), {0xF8, 0xFE, 0x00}).has_value(), request) << std::hex << id;
    }
  }
}

TEST_F(GuardTest, RefusesWhateverChangesSomethingEvenWhereADecoderNamesTheUnit) {
  // ISO 14229-1: session control, reset, clear, security, communication control, memory write, write by
  // identifier, input/output control, routine, download, tester present, DTC setting, link control; J1979: 04
  // clear, 08 control.
  for (const int service :
       {0x10, 0x11, 0x14, 0x27, 0x28, 0x29, 0x2C, 0x2E, 0x2F, 0x31, 0x34, 0x35, 0x36, 0x37, 0x38,
        0x3B, 0x3D, 0x3E, 0x83, 0x84, 0x85, 0x86, 0x87, 0x04, 0x08, 0x23, 0x24, 0x1A, 0x18}) {
    for (std::size_t length = 1; length <= 7; ++length) {
      Bytes payload(length, 0x01);
      payload[0] = static_cast<std::uint8_t>(service);
      EXPECT_REFUSED(build(at(standard_id(0x702)), payload), service_not_listed);
      EXPECT_REFUSED(build(at(standard_id(0x6F1), 0x18), payload), service_not_listed);
    }
  }
}

TEST_F(GuardTest, RefusesAPayloadThatNeedsSeveralFrames) {
  for (std::size_t length = 8; length <= 4100; length = length < 20 ? length + 1 : length * 2) {
    Bytes payload(length, 0x0C);
    payload[0] = 0x01;
    EXPECT_REFUSED(build(at(standard_id(0x7E0)), payload), length_wrong);
  }
  EXPECT_REFUSED(build(at(extended_id(0x18CE18F1), 5), {0x01, 1, 2, 3, 4, 5, 6}), length_wrong);
}

TEST_F(GuardTest, RefusesTheSuppressResponseBitOfAReadingSubFunction) {
  // ISO 14229-1: bit 7 of a sub-function suppresses the positive response.
  EXPECT_REFUSED(build(at(standard_id(0x7E0)), {0x19, 0x82, 0xFF}), sub_function_not_listed);
}

TEST_F(GuardTest, SaysWhichPartOfARequestIsNotOnTheList) {
  EXPECT_REFUSED(build(at(standard_id(0x123)), kReadDid), identifier_not_listed);
  EXPECT_REFUSED(build(at(standard_id(0x7E0)), {0x2E, 0xF1, 0x90}), service_not_listed);
  EXPECT_REFUSED(build(at(standard_id(0x7E0)), {0x22, 0xF1}), length_wrong);
  EXPECT_REFUSED(build(at(standard_id(0x7E0)), {}), length_wrong);
  EXPECT_REFUSED(build(at(standard_id(0x7E0)), {0x19, 0x03}), sub_function_not_listed);
  EXPECT_REFUSED(build(at(extended_id(0x18EA03F9)), {0xCC, 0xFE, 0x00}), group_not_listed);
  for (const auto refusal :
       {GuardRefusal::service_not_listed, GuardRefusal::identifier_not_listed,
        GuardRefusal::identifier_in_use, GuardRefusal::length_wrong, GuardRefusal::sub_function_not_listed,
        GuardRefusal::no_own_request, GuardRefusal::group_not_listed, GuardRefusal::flow_control_not_listed})
    EXPECT_FALSE(text_of(refusal).empty());
}

TEST_F(GuardTest, NeverUsesAnIdentifierThatADecoderNamesOutsideItsRange) {
  Guard guard{AddressBook{{normal_pair(0x123, 0x456),
                           normal_pair(0x5FF, 0x5FE),
                           normal_pair(0x7E9, 0x7E1),
                           normal_pair(0x7DE, 0x7EE),
                           {extended_id(0x18DAF110), extended_id(0x18DA10F1), AddressingMode::normal, {}, {}},
                           {extended_id(0x702), extended_id(0x70A), AddressingMode::normal, {}, {}}}}};
  for (const auto id : {standard_id(0x123), standard_id(0x5FF), standard_id(0x7E9), extended_id(0x18DAF110),
                        extended_id(0x702)})
    EXPECT_REFUSED(guard.build(Request{at(id), kReadDid}, now_), identifier_not_listed);
  EXPECT_TRUE(guard.build(Request{at(standard_id(0x7DE)), kReadDid}, now_));
}

TEST_F(GuardTest, NeverSpeaksOnAnIdentifierThatIsAUnitsVoice) {
  Guard guard{AddressBook{{normal_pair(0x700, 0x708), normal_pair(0x708, 0x710)}}};
  EXPECT_TRUE(guard.build(Request{at(standard_id(0x700)), kReadDid}, now_));
  EXPECT_REFUSED(guard.build(Request{at(standard_id(0x708)), kReadDid}, now_), identifier_not_listed);
}

TEST_F(GuardTest, GivesUpANamedIdentifierForGoodWhenSomebodyElseUsesIt) {
  ask(at(standard_id(0x702)), kReadDid);
  EXPECT_TRUE(build(at(standard_id(0x702)), kReadDid));
  hear(standard_id(0x702), {1, 2, 3});
  EXPECT_REFUSED(build(at(standard_id(0x702)), kReadDid), identifier_in_use);
  wait(std::chrono::hours{24});
  EXPECT_REFUSED(build(at(standard_id(0x702)), kReadDid), identifier_in_use);
  EXPECT_TRUE(build({BusName{"can1"}, standard_id(0x702), {}}, kReadDid)) << "another bus is another matter";
  EXPECT_TRUE(build(at(standard_id(0x7E1)), kReadDid));
}

TEST_F(GuardTest, TellsItsOwnEchoFromAForeignFrameWithTheSameBytes) {
  ask(at(standard_id(0x702)), kReadDid);  // the echo is taken
  EXPECT_TRUE(build(at(standard_id(0x702)), {0x22, 0x11, 0x22}));
  hear(standard_id(0x702), {0x03, 0x22, 0xF1, 0x90, 0xCC, 0xCC, 0xCC, 0xCC});  // nobody of us sent it again
  EXPECT_REFUSED(build(at(standard_id(0x702)), kReadDid), identifier_in_use);
}

TEST_F(GuardTest, DoesNotTakeAnEchoThatComesMuchTooLateForItsOwn) {
  ASSERT_TRUE(build(at(standard_id(0x7E0)), kReadDid));
  wait(seconds{6});
  hear(standard_id(0x7E0), {0x03, 0x22, 0xF1, 0x90, 0xCC, 0xCC, 0xCC, 0xCC});
  EXPECT_TRUE(guard_.other_tester_heard());
}

TEST_F(GuardTest, ForgetsAFrameThatTheSocketRefused) {
  const auto built = build(at(standard_id(0x7E0)), kReadDid);
  ASSERT_TRUE(built);
  guard_.on_send_failed(*built);
  hear(standard_id(0x7E0), {0x03, 0x22, 0xF1, 0x90, 0xCC, 0xCC, 0xCC, 0xCC});
  EXPECT_TRUE(guard_.other_tester_heard());
}

TEST_F(GuardTest, HearsAnotherTesterOnEveryIdentifierThatTestersUse) {
  // ISO 15765-4 requests; SAE J1939: F9 and FA are the off-board service tools.
  for (const auto id : {standard_id(0x7DF), standard_id(0x7E0), standard_id(0x7E7), extended_id(0x18DB33F1),
                        extended_id(0x18DA18F1), extended_id(0x18CE18F1), extended_id(0x18EAFFF9),
                        extended_id(0x18EA03FA), extended_id(0x1CEC03F9), extended_id(0x18EEFFF9)}) {
    Guard guard{AddressBook{}};
    guard.on_frame(data_frame(now_, kBus, id, Bytes{0x02, 0x01, 0x0C}));
    ASSERT_TRUE(guard.other_tester_heard()) << ecu_text(id);
    EXPECT_EQ(guard.other_tester_heard()->id, id);
    EXPECT_EQ(guard.other_tester_heard()->bus, kBus);
    EXPECT_EQ(guard.other_tester_heard()->at, now_);
  }
  for (const auto id : {standard_id(0x7E8), standard_id(0x280), extended_id(0x18DAF118),
                        extended_id(0x18DAF1F9), extended_id(0x18FEF803), extended_id(0x18EA0300)}) {
    Guard guard{AddressBook{}};
    guard.on_frame(data_frame(now_, kBus, id, Bytes{0x02, 0x01, 0x0C}));
    EXPECT_FALSE(guard.other_tester_heard()) << ecu_text(id);
  }
}

TEST_F(GuardTest, DoesNotTakeItselfForAnotherTester) {
  ask(at(standard_id(0x7E1)), kReadDid);
  hear(standard_id(0x7E9), kFirstFrame);
  const auto built = flow(standard_id(0x7E1), kGoOn);
  ASSERT_TRUE(built);
  guard_.on_frame(built->frame());
  EXPECT_FALSE(guard_.other_tester_heard());
}

// --- flow control -----------------------------------------------------------------------------------------

TEST_F(GuardTest, TellsAUnitToGoOnThatAnswersOurRequest) {
  ask(at(standard_id(0x7E1)), kReadDid);
  wait(milliseconds{30});
  hear(standard_id(0x7E9), kFirstFrame);
  EXPECT_EQ(bytes_of(flow(standard_id(0x7E1), {0x30, 0x04, 0x14})),
            (Bytes{0x30, 0x04, 0x14, 0xCC, 0xCC, 0xCC, 0xCC, 0xCC}));
}

TEST_F(GuardTest, RebuildsFlowControlFromItsMeaningAndPassesNoOtherByteThrough) {
  ask(at(standard_id(0x7E1)), kReadDid);
  hear(standard_id(0x7E9), kFirstFrame);
  EXPECT_EQ(bytes_of(flow(standard_id(0x7E1), {0x32, 0x11, 0x22, 0x2E, 0xF1, 0x90, 0x00, 0x00})),
            (Bytes{0x32, 0x00, 0x00, 0xCC, 0xCC, 0xCC, 0xCC, 0xCC}));
}

TEST_F(GuardTest, SendsNeitherWaitFramesNorNonsenseAsFlowControl) {
  ask(at(standard_id(0x7E1)), kReadDid);
  hear(standard_id(0x7E9), kFirstFrame);
  for (int status = 0; status <= 0xFF; ++status) {
    if (status == 0x30 || status == 0x32) continue;
    EXPECT_REFUSED(flow(standard_id(0x7E1), {static_cast<std::uint8_t>(status), 0, 0}),
                   flow_control_not_listed);
  }
  EXPECT_REFUSED(flow(standard_id(0x7E1), {0x30, 0x00}), flow_control_not_listed);
  EXPECT_REFUSED(flow(standard_id(0x7E1), {0x30, 0x00, 0x80}), flow_control_not_listed);  // reserved STmin
  EXPECT_REFUSED(flow(standard_id(0x7E1), {}), flow_control_not_listed);
}

TEST_F(GuardTest, SendsNoFlowControlWithoutARequestOfItsOwn) {
  hear(standard_id(0x7E9), kFirstFrame);
  EXPECT_REFUSED(flow(standard_id(0x7E1), kGoOn), no_own_request);
}

TEST_F(GuardTest, SendsNoFlowControlForTheAnswerToAnotherTester) {
  hear(standard_id(0x7E1), {0x03, 0x22, 0xF1, 0x90, 0x00, 0x00, 0x00, 0x00});
  hear(standard_id(0x7E9), kFirstFrame);
  EXPECT_REFUSED(flow(standard_id(0x7E1), kGoOn), no_own_request);
}

TEST_F(GuardTest, SendsNoFlowControlWhileTheEchoOfTheRequestIsMissing) {
  ASSERT_TRUE(build(at(standard_id(0x7E1)), kReadDid));
  hear(standard_id(0x7E9), kFirstFrame);
  EXPECT_REFUSED(flow(standard_id(0x7E1), kGoOn), no_own_request);
}

TEST_F(GuardTest, SendsNoFlowControlToAUnitThatWasNotAsked) {
  ask(at(standard_id(0x7E1)), kReadDid);
  hear(standard_id(0x7E8), kFirstFrame);
  EXPECT_REFUSED(flow(standard_id(0x7E0), kGoOn), no_own_request);
  EXPECT_REFUSED(flow(standard_id(0x7E1), kGoOn), no_own_request);
}

TEST_F(GuardTest, SendsNoFlowControlForAnAnswerToAnotherService) {
  ask(at(standard_id(0x7E1)), {0x09, 0x02});
  hear(standard_id(0x7E9), kFirstFrame);  // 62: not 49
  EXPECT_REFUSED(flow(standard_id(0x7E1), kGoOn), no_own_request);
}

TEST_F(GuardTest, SendsNoFlowControlForAFirstFrameAfterP2) {
  ask(at(standard_id(0x7E1)), kReadDid);
  wait(milliseconds{101});  // 100 ms: client value of P2
  hear(standard_id(0x7E9), kFirstFrame);
  EXPECT_REFUSED(flow(standard_id(0x7E1), kGoOn), no_own_request);
}

TEST_F(GuardTest, WaitsForP2StarAfterResponsePending) {
  ask(at(standard_id(0x7E1)), kReadDid);
  hear(standard_id(0x7E9), {0x03, 0x7F, 0x22, 0x78});
  wait(milliseconds{5000});
  hear(standard_id(0x7E9), {0x03, 0x7F, 0x22, 0x78});
  wait(milliseconds{5000});
  hear(standard_id(0x7E9), kFirstFrame);
  EXPECT_TRUE(flow(standard_id(0x7E1), kGoOn));
}

TEST_F(GuardTest, SendsNoFlowControlAfterP2StarHasPassed) {
  ask(at(standard_id(0x7E1)), kReadDid);
  hear(standard_id(0x7E9), {0x03, 0x7F, 0x22, 0x78});
  wait(milliseconds{5051});
  hear(standard_id(0x7E9), kFirstFrame);
  EXPECT_REFUSED(flow(standard_id(0x7E1), kGoOn), no_own_request);
}

TEST_F(GuardTest, SendsNoFlowControlThatComesTooLateForTheUnit) {
  ask(at(standard_id(0x7E1)), kReadDid);
  hear(standard_id(0x7E9), kFirstFrame);
  wait(milliseconds{1001});  // ISO 15765-2: N_Bs, 1000 ms
  EXPECT_REFUSED(flow(standard_id(0x7E1), kGoOn), no_own_request);
}

TEST_F(GuardTest, SendsFlowControlOnceForAFirstFrameAndOnceForEachBlock) {
  ask(at(standard_id(0x7E1)), kReadDid);
  hear(standard_id(0x7E9), {0x10, 0x28, 0x62, 0xF1, 0x90, 1, 2, 3});  // 40 bytes: five consecutive frames
  EXPECT_TRUE(flow(standard_id(0x7E1), {0x30, 0x02, 0x00}));
  EXPECT_REFUSED(flow(standard_id(0x7E1), {0x30, 0x02, 0x00}), no_own_request);
  const Bytes consecutive{0x21, 1, 2, 3, 4, 5, 6, 7};
  hear(standard_id(0x7E9), consecutive);
  EXPECT_REFUSED(flow(standard_id(0x7E1), {0x30, 0x02, 0x00}), no_own_request);
  hear(standard_id(0x7E9), consecutive);
  EXPECT_TRUE(flow(standard_id(0x7E1), {0x30, 0x03, 0x00}));
  for (int i = 0; i < 3; ++i) hear(standard_id(0x7E9), consecutive);
  EXPECT_REFUSED(flow(standard_id(0x7E1), {0x30, 0x02, 0x00}), no_own_request) << "the message is whole";
}

TEST_F(GuardTest, SendsNoFlowControlToATransferThatItEndedWithOverflow) {
  ask(at(standard_id(0x7E1)), kReadDid);
  hear(standard_id(0x7E9), kFirstFrame);
  EXPECT_TRUE(flow(standard_id(0x7E1), {0x32, 0, 0}));
  EXPECT_REFUSED(flow(standard_id(0x7E1), kGoOn), no_own_request);
}

TEST_F(GuardTest, TakesOneAnswerForEachRequestAndUnit) {
  ask(at(standard_id(0x7E1)), kReadDid);
  hear(standard_id(0x7E9), {0x04, 0x62, 0xF1, 0x90, 0x55});
  hear(standard_id(0x7E9), kFirstFrame);  // nobody asked for a second one
  EXPECT_REFUSED(flow(standard_id(0x7E1), kGoOn), no_own_request);
  ask(at(standard_id(0x7E1)), kReadDid);
  hear(standard_id(0x7E9), kFirstFrame);
  EXPECT_TRUE(flow(standard_id(0x7E1), kGoOn));
}

TEST_F(GuardTest, ARefusedRequestIsAnsweredAndOpensNothing) {
  ask(at(standard_id(0x7E1)), kReadDid);
  hear(standard_id(0x7E9), {0x03, 0x7F, 0x22, 0x31});
  hear(standard_id(0x7E9), kFirstFrame);
  EXPECT_REFUSED(flow(standard_id(0x7E1), kGoOn), no_own_request);
}

TEST_F(GuardTest, ASingleFrameEndsTheTransferThatWasWaiting) {
  ask(at(standard_id(0x7E1)), kReadDid);
  hear(standard_id(0x7E9), kFirstFrame);
  hear(standard_id(0x7E9), {0x02, 0x41, 0x0C});  // ISO 15765-2: a new start ends the running reception
  EXPECT_REFUSED(flow(standard_id(0x7E1), kGoOn), no_own_request);
}

TEST_F(GuardTest, AFunctionalRequestOpensTheAnswersOfAllEightUnits) {
  ask(at(standard_id(0x7DF)), {0x09, 0x02});
  const Bytes vin{0x10, 0x14, 0x49, 0x02, 0x01, 0x31, 0x32, 0x33};
  for (std::uint32_t unit = 0x7E8; unit <= 0x7EF; ++unit) hear(standard_id(unit), vin);
  for (std::uint32_t unit = 0x7E8; unit <= 0x7EF; ++unit) EXPECT_TRUE(flow(standard_id(unit - 8), kGoOn));
  EXPECT_REFUSED(flow(standard_id(0x7DF), kGoOn), identifier_not_listed);
}

TEST_F(GuardTest, AFunctionalRequestOpensTheAnswersOfAllUnitsWithTwentyNineBits) {
  ask(at(extended_id(0x18DB33F1)), {0x09, 0x02});
  const Bytes vin{0x10, 0x14, 0x49, 0x02, 0x01, 0x31, 0x32, 0x33};
  hear(extended_id(0x18DAF110), vin);
  hear(extended_id(0x18DAF118), vin);
  hear(standard_id(0x7E8), vin);
  EXPECT_TRUE(flow(extended_id(0x18DA10F1), kGoOn));
  EXPECT_TRUE(flow(extended_id(0x18DA18F1), kGoOn));
  EXPECT_REFUSED(flow(standard_id(0x7E0), kGoOn), no_own_request);
}

TEST_F(GuardTest, AnElevenBitFunctionalRequestDoesNotOpenAUnitThatADecoderNames) {
  ask(at(standard_id(0x7DF)), kReadDid);
  hear(standard_id(0x70A), kFirstFrame);
  EXPECT_REFUSED(flow(standard_id(0x702), kGoOn), no_own_request);
}

TEST_F(GuardTest, CarriesTheAddressByteInFlowControl) {
  ask(at(standard_id(0x6F1), 0x18), kReadDid);
  hear(standard_id(0x618), {0xF1, 0x10, 0x14, 0x62, 0xF1, 0x90, 0x31, 0x32});
  EXPECT_EQ(bytes_of(flow(standard_id(0x6F1), {0x18, 0x30, 0x00, 0x00})),
            (Bytes{0x18, 0x30, 0x00, 0x00, 0xCC, 0xCC, 0xCC, 0xCC}));
  EXPECT_REFUSED(flow(standard_id(0x6F1), {0x19, 0x30, 0x00, 0x00}), identifier_not_listed);
}

TEST_F(GuardTest, CarriesTheAddressExtensionInFlowControlOfMixedAddressing) {
  ask(at(extended_id(0x18CE18F1), 0x05), kReadDid);
  hear(extended_id(0x18CEF118), {0x05, 0x10, 0x14, 0x62, 0xF1, 0x90, 0x31, 0x32});
  EXPECT_REFUSED(flow(extended_id(0x18CE18F1), {0x06, 0x30, 0x00, 0x00}), no_own_request);
  EXPECT_EQ(bytes_of(flow(extended_id(0x18CE18F1), {0x05, 0x30, 0x00, 0x00})),
            (Bytes{0x05, 0x30, 0x00, 0x00, 0xCC, 0xCC, 0xCC, 0xCC}));
}

TEST_F(GuardTest, NeverMixesTheSameUnitOnTwoBuses) {
  ask(at(standard_id(0x7E1)), kReadDid);
  guard_.on_frame(data_frame(now_, BusName{"can1"}, standard_id(0x7E9), kFirstFrame));
  EXPECT_REFUSED(flow(standard_id(0x7E1), kGoOn), no_own_request);
}

TEST_F(GuardTest, SendsNoFlowControlOnIdentifiersOutsideTheList) {
  for (std::uint32_t id = 0; id <= 0x7FF; ++id) {
    if (id == 0x702 || (id >= 0x7E0 && id <= 0x7E7)) continue;
    EXPECT_REFUSED(flow(standard_id(id), kGoOn), identifier_not_listed);
  }
}

// --- SAE J1939 --------------------------------------------------------------------------------------------

TEST_F(GuardTest, AsksForAListedGroupWithThreeBytes) {
  // SAE J1939-21: request, PGN low byte first; 18EA03F9: priority 6, to 3, from F9.
  const auto built = build(at(extended_id(0x18EA03F9)), {0xF8, 0xFE, 0x00});
  EXPECT_EQ(bytes_of(built), (Bytes{0xF8, 0xFE, 0x00}));
  EXPECT_TRUE(build(at(extended_id(0x18EAFFF9)), {0xCA, 0xFE, 0x00}));
  EXPECT_REFUSED(build(at(extended_id(0x18EA03F9)), {0xF8, 0xFE}), length_wrong);
  EXPECT_REFUSED(build(at(extended_id(0x18EA03F9)), {0xF8, 0xFE, 0x00, 0x00}), length_wrong);
}

TEST_F(GuardTest, NeverAsksForTheGroupsThatClearCodes) {
  // SAE J1939-73: DM3 (65228) clears previously active codes, DM11 (65235) active ones, on a mere request.
  EXPECT_FALSE(Guard::group_listed(65228));
  EXPECT_FALSE(Guard::group_listed(65235));
  EXPECT_FALSE(Guard::group_listed(0xD900));  // DM14 memory access
  // The list once more: everything else of the 18 bits is refused.
  const std::set<std::uint32_t> listed{60928, 65260, 65259, 65242, 64965, 54016, 65226, 65227, 65229,
                                       65230, 65231, 65236, 64949, 64950, 64896, 49664, 65272, 61445,
                                       61444, 65262, 65265, 65269, 65271, 65253, 65248};
  for (std::uint32_t pgn = 0; pgn <= 0x3FFFF; ++pgn)
    EXPECT_EQ(Guard::group_listed(pgn), listed.contains(pgn)) << pgn;
}

class GuardGroupTest : public GuardTest {
 protected:
  void ask_for_software_id() { ask(at(extended_id(0x18EA03F9)), {0xDA, 0xFE, 0x00}); }
  // TP.CM RTS from 3 to F9: 20 bytes, 3 packets, PGN FEDA (SAE J1939-21).
  void hear_rts() { hear(extended_id(0x1CECF903), {0x10, 0x14, 0x00, 0x03, 0xFF, 0xDA, 0xFE, 0x00}); }
};

TEST_F(GuardGroupTest, GrantsPacketsToAUnitThatSendsWhatWeAskedFor) {
  ask_for_software_id();
  hear_rts();
  EXPECT_EQ(bytes_of(flow(extended_id(0x18EC03F9), {0x11, 0x03, 0x01, 0x00, 0x00, 0xDA, 0xFE, 0x00})),
            (Bytes{0x11, 0x03, 0x01, 0xFF, 0xFF, 0xDA, 0xFE, 0x00}));
}

TEST_F(GuardGroupTest, AcknowledgesAMessageWithItsTrueSizeOnce) {
  ask_for_software_id();
  hear_rts();
  const Bytes end{0x13, 0x99, 0x99, 0x99, 0x99, 0xDA, 0xFE, 0x00};
  EXPECT_EQ(bytes_of(flow(extended_id(0x18EC03F9), end)),
            (Bytes{0x13, 0x14, 0x00, 0x03, 0xFF, 0xDA, 0xFE, 0x00}));
  EXPECT_REFUSED(flow(extended_id(0x18EC03F9), end), no_own_request);
}

TEST_F(GuardGroupTest, AbortsASessionOfItsOwnOnly) {
  const Bytes abort{0xFF, 0x03, 0x12, 0x34, 0x56, 0xDA, 0xFE, 0x00};
  EXPECT_REFUSED(flow(extended_id(0x18EC03F9), abort), no_own_request);
  ask_for_software_id();
  hear_rts();
  EXPECT_EQ(bytes_of(flow(extended_id(0x18EC03F9), abort)),
            (Bytes{0xFF, 0x03, 0xFF, 0xFF, 0xFF, 0xDA, 0xFE, 0x00}));
}

TEST_F(GuardGroupTest, SendsNothingOfATransportSessionThatNobodyAskedFor) {
  hear_rts();
  EXPECT_REFUSED(flow(extended_id(0x18EC03F9), {0x11, 3, 1, 0xFF, 0xFF, 0xDA, 0xFE, 0x00}), no_own_request);
  ask(at(extended_id(0x18EA03F9)), {0xEC, 0xFE, 0x00});  // another group
  hear_rts();
  EXPECT_REFUSED(flow(extended_id(0x18EC03F9), {0x11, 3, 1, 0xFF, 0xFF, 0xDA, 0xFE, 0x00}), no_own_request);
  ask_for_software_id();
  wait(milliseconds{1251});  // Linux net/can/j1939/transport.c: 1250 ms
  hear_rts();
  EXPECT_REFUSED(flow(extended_id(0x18EC03F9), {0x11, 3, 1, 0xFF, 0xFF, 0xDA, 0xFE, 0x00}), no_own_request);
}

TEST_F(GuardGroupTest, ARequestToAllOpensASessionOfAnyUnit) {
  ask(at(extended_id(0x18EAFFF9)), {0xDA, 0xFE, 0x00});
  hear_rts();
  EXPECT_TRUE(flow(extended_id(0x18EC03F9), {0x11, 3, 1, 0xFF, 0xFF, 0xDA, 0xFE, 0x00}));
  EXPECT_REFUSED(flow(extended_id(0x18EC04F9), {0x11, 3, 1, 0xFF, 0xFF, 0xDA, 0xFE, 0x00}), no_own_request);
}

TEST_F(GuardGroupTest, SendsOnlyTheControlMessagesOfAReceiver) {
  ask_for_software_id();
  hear_rts();
  for (int control = 0; control <= 0xFF; ++control) {
    if (control == 0x11 || control == 0x13 || control == 0xFF) continue;
    EXPECT_REFUSED(flow(extended_id(0x18EC03F9),
                        {static_cast<std::uint8_t>(control), 3, 1, 0xFF, 0xFF, 0xDA, 0xFE, 0x00}),
                   flow_control_not_listed);
  }
  // A grant for nothing holds the connection; grants beyond the message are nonsense.
  EXPECT_REFUSED(flow(extended_id(0x18EC03F9), {0x11, 0, 1, 0xFF, 0xFF, 0xDA, 0xFE, 0}),
                 flow_control_not_listed);
  EXPECT_REFUSED(flow(extended_id(0x18EC03F9), {0x11, 3, 2, 0xFF, 0xFF, 0xDA, 0xFE, 0}),
                 flow_control_not_listed);
  EXPECT_REFUSED(flow(extended_id(0x18EC03F9), {0x11, 3, 0, 0xFF, 0xFF, 0xDA, 0xFE, 0}),
                 flow_control_not_listed);
  EXPECT_REFUSED(flow(extended_id(0x18EC03F9), {0xFF, 0, 0, 0xFF, 0xFF, 0xDA, 0xFE, 0}),
                 flow_control_not_listed);
  EXPECT_REFUSED(flow(extended_id(0x18EC03F9), {0x11, 3, 1}), flow_control_not_listed);
}

TEST_F(GuardGroupTest, GrantsNoMoreThanTwiceTheMessage) {
  ask_for_software_id();
  hear_rts();
  for (int i = 0; i < 6; ++i)
    EXPECT_TRUE(flow(extended_id(0x18EC03F9), {0x11, 1, 1, 0xFF, 0xFF, 0xDA, 0xFE, 0x00})) << i;
  EXPECT_REFUSED(flow(extended_id(0x18EC03F9), {0x11, 1, 1, 0xFF, 0xFF, 0xDA, 0xFE, 0}),
                 flow_control_not_listed);
}

TEST_F(GuardGroupTest, ClaimsItsAddressAndGivesItUpToAnybodyElse) {
  const auto claim = guard_.build_address_claim(kBus, 0x1ABCDE, now_);
  ASSERT_TRUE(claim);
  EXPECT_EQ(claim->frame().id, extended_id(0x18EEFFF9));
  // SAE J1939-81 NAME, low byte first (layout: Linux linux/can/j1939.h): identity 1ABCDE, manufacturer 7FF,
  // function 129.
  EXPECT_EQ(bytes_of(claim), (Bytes{0xDE, 0xBC, 0xFA, 0xFF, 0x00, 0x81, 0x00, 0x00}));
  guard_.on_frame(claim->frame());
  EXPECT_FALSE(guard_.other_tester_heard());
  hear(extended_id(0x18EEFFF9), {1, 2, 3, 4, 5, 6, 7, 8});
  EXPECT_REFUSED(guard_.build_address_claim(kBus, 1, now_), identifier_in_use);
  EXPECT_REFUSED(build(at(extended_id(0x18EA03F9)), {0xF8, 0xFE, 0x00}), identifier_in_use);
  EXPECT_TRUE(build(at(standard_id(0x7E0)), kReadDid));
}

// --- hostile input ----------------------------------------------------------------------------------------

TEST_F(GuardTest, SurvivesEveryShapeOfFrameOnEveryDiagnosticIdentifier) {
  std::uint32_t seed = 1;  // numerical recipes' linear congruential generator: any will do
  const auto next = [&seed] { return seed = seed * 1664525U + 1013904223U; };
  const std::vector<CanId> ids{standard_id(0x7DF),      standard_id(0x7E1),      standard_id(0x7E9),
                               standard_id(0x618),      standard_id(0x6F1),      extended_id(0x18DAF118),
                               extended_id(0x18CEF118), extended_id(0x1CECF903), extended_id(0x1CEBF903)};
  std::size_t flows = 0;
  for (int i = 0; i < 200000; ++i) {
    wait(std::chrono::microseconds{next() >> 16});
    if (i % 50 == 0) guard_.on_frame(build(at(standard_id(0x7E1)), kReadDid)->frame());
    CanFrame frame;
    frame.at = now_;
    frame.bus = kBus;
    frame.id = ids[(next() >> 8) % ids.size()];
    frame.kind = static_cast<FrameKind>((next() >> 8) % 20 > 2 ? 0 : (next() >> 8) % 3);
    frame.fd = (next() >> 8) % 10 == 0;
    Bytes bytes((next() >> 8) % (frame.fd ? 65 : 9));
    for (auto& byte : bytes) byte = static_cast<std::uint8_t>(next() >> 24);
    if (bytes.size() > 3 && next() >> 31) bytes[0] = 0x10, bytes[2] = 0x62;
    frame.set_data(bytes);
    guard_.on_frame(frame);
    const auto built = guard_.build_flow_control(frame, now_);
    if (built) ++flows;
    const auto go_on = flow(standard_id(0x7E1), kGoOn);
    if (go_on) ++flows;
  }
  EXPECT_GT(flows, 0U);
}

}  // namespace
}  // namespace sumplog
