#include "core/guard/guard.h"

#include <array>
#include <map>
#include <set>

#include "core/guard/guard_fixture.h"

namespace sumplog::guard_test {
namespace {

// Only the guard makes what the socket sends.
static_assert(!std::is_default_constructible_v<GuardedFrame>);
static_assert(!std::is_constructible_v<GuardedFrame, CanFrame>);
static_assert(!std::is_constructible_v<GuardedFrame, const CanFrame&>);
static_assert(!std::is_convertible_v<CanFrame, GuardedFrame>);
static_assert(!std::is_assignable_v<GuardedFrame&, const CanFrame&>);
static_assert(!std::is_aggregate_v<GuardedFrame>);
static_assert(std::is_final_v<GuardedFrame>);
static_assert(std::is_same_v<decltype(std::declval<GuardedFrame&>().frame()), const CanFrame&>);

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
                           normal_pair(0x1702, 0x170A),
                           {extended_id(0x18DAF110), extended_id(0x18DA10F1), AddressingMode::normal, {}, {}},
                           {extended_id(0x702), extended_id(0x70A), AddressingMode::normal, {}, {}}}}};
  for (const auto id : {standard_id(0x123), standard_id(0x5FF), standard_id(0x7E9), standard_id(0x1702),
                        extended_id(0x18DAF110), extended_id(0x702)})
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

TEST_F(GuardTest, DoesNotTakeAnEchoThatComesMuchTooLateOnABusThatLivesForItsOwn) {
  hear(standard_id(0x7E8), {0x02, 0x41, 0x0C});
  ASSERT_TRUE(build(at(standard_id(0x7E0)), kReadDid));
  for (int s = 0; s < 6; ++s) {
    wait(seconds{1});
    hear(standard_id(0x7E8), {0x02, 0x41, 0x0C});
  }
  hear(standard_id(0x7E0), {0x03, 0x22, 0xF1, 0x90, 0xCC, 0xCC, 0xCC, 0xCC});
  EXPECT_TRUE(guard_.other_tester_heard());
}

// Ignition off: nobody acknowledges, the controller keeps what it was given, and it leaves when the ignition is on again.
TEST_F(GuardTest, KnowsItsFramesThatASilentBusHasKeptForMinutes) {
  hear(standard_id(0x7E8), {0x02, 0x41, 0x0C});
  const auto named = build(at(standard_id(0x702)), kReadDid);
  const auto group = build(at(extended_id(0x18EA03F9)), {0xF8, 0xFE, 0x00});
  ASSERT_TRUE(named && group);
  wait(std::chrono::minutes{10});
  for (const auto& frame : {named->frame(), group->frame()}) {
    auto echo = frame;
    echo.at = now_;
    EXPECT_TRUE(guard_.on_frame(echo));
    wait(milliseconds{1});
  }
  EXPECT_FALSE(guard_.other_tester_heard());
  EXPECT_TRUE(build(at(extended_id(0x18EA03F9)), {0xF8, 0xFE, 0x00}));
  hear(standard_id(0x702), {0x03, 0x22, 0xF1, 0x90, 0xCC, 0xCC, 0xCC, 0xCC});  // it was built once
  EXPECT_REFUSED(build(at(standard_id(0x702)), kReadDid), identifier_in_use);
}

TEST_F(GuardTest, WhatASilentBusHasNotGivenBackFiveSecondsAfterItWokeIsSomebodyElses) {
  hear(standard_id(0x7E8), {0x02, 0x41, 0x0C});
  ASSERT_TRUE(build(at(standard_id(0x702)), kReadDid));
  wait(std::chrono::minutes{10});
  for (int s = 0; s < 7; ++s) {
    hear(standard_id(0x7E8), {0x02, 0x41, 0x0C});
    wait(seconds{1});
  }
  hear(standard_id(0x702), {0x03, 0x22, 0xF1, 0x90, 0xCC, 0xCC, 0xCC, 0xCC});
  EXPECT_REFUSED(build(at(standard_id(0x702)), kReadDid), identifier_in_use);
}

TEST_F(GuardTest, DoesNotTakeAFrameOfCanFdForItsOwn) {
  ASSERT_TRUE(build(at(standard_id(0x7E0)), kReadDid));
  auto frame =
      data_frame(now_, kBus, standard_id(0x7E0), Bytes{0x03, 0x22, 0xF1, 0x90, 0xCC, 0xCC, 0xCC, 0xCC});
  frame.fd = true;
  guard_.on_frame(frame);
  EXPECT_TRUE(guard_.other_tester_heard());
}

TEST_F(GuardTest, ARefusalThatComesAfterTheEchoTakesNoOtherFrameAway) {
  const auto first = build(at(standard_id(0x7E0)), kReadDid);
  ASSERT_TRUE(first);
  guard_.on_frame(first->frame());
  wait(milliseconds{1});
  const auto second = build(at(standard_id(0x7E0)), kReadDid);
  ASSERT_TRUE(second);
  guard_.on_send_failed(*first);
  guard_.on_frame(second->frame());
  EXPECT_FALSE(guard_.other_tester_heard());
}

TEST_F(GuardTest, SendsNoRequestOnTheIdentifiersOfClaimsAndTransport) {
  EXPECT_REFUSED(build(at(extended_id(0x18EEFFF9)), {0xF8, 0xFE, 0x00}), identifier_not_listed);
  EXPECT_REFUSED(build(at(extended_id(0x18EC03F9)), {0xF8, 0xFE, 0x00}), identifier_not_listed);
}

TEST_F(GuardTest, PutsAnAddressByteOnlyWhereItBelongs) {
  for (const auto& to :
       {at(standard_id(0x7DF), 0x18), at(standard_id(0x7E0), 0x18), at(extended_id(0x18CE18F1)),
        at(extended_id(0x18EA03F9), 0x18), at(standard_id(0x702), 0x18)})
    EXPECT_REFUSED(build(to, kReadDid), identifier_not_listed);
  // A pair of extended addressing that leaves the unit's byte open names nobody.
  Guard guard{AddressBook{{{standard_id(0x6F1), standard_id(0x618), AddressingMode::extended, {}, 0xF1}}}};
  EXPECT_REFUSED(guard.build(Request{at(standard_id(0x6F1)), kReadDid}, now_), identifier_not_listed);
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
                        extended_id(0x18EA03FA), extended_id(0x1CEC03F9), extended_id(0x1CEB03F9),
                        extended_id(0x18EEFFF9), extended_id(0x18DB10F1), extended_id(0x18CD33F1)}) {
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

}  // namespace
}  // namespace sumplog::guard_test
