#include "core/guard/guard_fixture.h"

namespace sumplog::guard_test {
namespace {

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

TEST_F(GuardTest, AsksForEverySeparationTimeOfTheStandardAndForNoReservedOne) {
  // ISO 15765-2, STmin: 00…7F ms, F1…F9 hundreds of µs.
  for (int st_min = 0; st_min <= 0xFF; ++st_min) {
    ask(at(standard_id(0x7E1)), kReadDid);
    hear(standard_id(0x7E9), kFirstFrame);
    const bool known = st_min <= 0x7F || (st_min >= 0xF1 && st_min <= 0xF9);
    EXPECT_EQ(flow(standard_id(0x7E1), {0x30, 0x00, static_cast<std::uint8_t>(st_min)}).has_value(), known)
        << st_min;
  }
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

TEST_F(GuardTest, SendsFlowControlForALateFirstFrameAsLongAsItsRequestIsOpenAndNotAfter) {
  ask(at(standard_id(0x7E1)), kReadDid);
  wait(milliseconds{999});
  hear(standard_id(0x7E9), kFirstFrame);
  EXPECT_TRUE(flow(standard_id(0x7E1), kGoOn));
  ask(at(standard_id(0x7E1)), kReadDid);
  wait(milliseconds{1001});
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
  EXPECT_REFUSED(flow(standard_id(0x7E1), {0x30, 0x02, 0x00}), no_own_request);  // the message is whole
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

TEST_F(GuardTest, AFunctionalRequestOpensNoAnswerOfAnotherBusOrBesideTheIdentifiersOfTheStandard) {
  Guard guard{AddressBook{{normal_pair(0x7F0, 0x7F8), extended_pair(0x6F1, 0x18, 0x618, 0xF1)}}};
  auto echo = guard.build(Request{at(standard_id(0x7DF)), kReadDid}, now_)->frame();
  guard.on_frame(echo);
  const BusName other{"can1"};
  guard.on_frame(data_frame(now_, other, standard_id(0x7E9), kFirstFrame));
  guard.on_frame(data_frame(now_, kBus, standard_id(0x7F8), kFirstFrame));  // ISO 15765-4: 7E8…7EF answer
  guard.on_frame(data_frame(now_, kBus, standard_id(0x618), Bytes{0xF1, 0x10, 0x14, 0x62, 0xF1, 0x90, 1, 2}));
  EXPECT_REFUSED(guard.build_flow_control(data_frame(now_, other, standard_id(0x7E1), kGoOn), now_),
                 no_own_request);
  EXPECT_REFUSED(guard.build_flow_control(data_frame(now_, kBus, standard_id(0x7F0), kGoOn), now_),
                 no_own_request);
  EXPECT_REFUSED(
      guard.build_flow_control(data_frame(now_, kBus, standard_id(0x6F1), Bytes{0x18, 0x30, 0, 0}), now_),
      no_own_request);
}

TEST_F(GuardTest, ARefusalOfAnotherServiceIsNoAnswerOfOurs) {
  ask(at(standard_id(0x7E1)), kReadDid);
  hear(standard_id(0x7E9), {0x03, 0x7F, 0x09, 0x31});
  hear(standard_id(0x7E9), kFirstFrame);
  EXPECT_TRUE(flow(standard_id(0x7E1), kGoOn));
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
}  // namespace sumplog::guard_test
