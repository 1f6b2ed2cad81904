#include <set>

#include "core/guard/guard_fixture.h"

namespace sumplog::guard_test {
namespace {

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

TEST_F(GuardGroupTest, SendsNothingToAnotherUnitOrBusThanTheOneAsked) {
  ask_for_software_id();
  const Bytes rts{0x10, 0x14, 0x00, 0x03, 0xFF, 0xDA, 0xFE, 0x00};
  const Bytes grant{0x11, 3, 1, 0xFF, 0xFF, 0xDA, 0xFE, 0x00};
  hear(extended_id(0x1CECF904), rts);
  EXPECT_REFUSED(flow(extended_id(0x18EC04F9), grant), no_own_request);
  const BusName other{"can1"};
  guard_.on_frame(data_frame(now_, other, extended_id(0x1CECF903), rts));
  EXPECT_REFUSED(guard_.build_flow_control(data_frame(now_, other, extended_id(0x18EC03F9), grant), now_),
                 no_own_request);
}

TEST_F(GuardGroupTest, OpensNoSessionForASizeThatDoesNotAddUp) {
  // SAE J1939-21: 9…1785 bytes, seven a packet, at least one packet for each grant.
  for (const auto& rts : {Bytes{0x10, 0x08, 0x00, 0x02, 0xFF, 0xDA, 0xFE, 0x00},
                          Bytes{0x10, 0xFA, 0x06, 0xFF, 0xFF, 0xDA, 0xFE, 0x00},
                          Bytes{0x10, 0x14, 0x00, 0x04, 0xFF, 0xDA, 0xFE, 0x00},
                          Bytes{0x10, 0x14, 0x00, 0x03, 0x00, 0xDA, 0xFE, 0x00},
                          Bytes{0x10, 0x14, 0x00, 0x03, 0xFF, 0xDA, 0xFE}}) {
    ask_for_software_id();
    hear(extended_id(0x1CECF903), rts);
    EXPECT_REFUSED(flow(extended_id(0x18EC03F9), {0x11, 1, 1, 0xFF, 0xFF, 0xDA, 0xFE, 0x00}), no_own_request);
  }
}

TEST_F(GuardGroupTest, GrantsNoMoreAtOnceThanTheUnitOffers) {
  ask_for_software_id();
  hear(extended_id(0x1CECF903), {0x10, 0x14, 0x00, 0x03, 0x02, 0xDA, 0xFE, 0x00});
  EXPECT_REFUSED(flow(extended_id(0x18EC03F9), {0x11, 3, 1, 0xFF, 0xFF, 0xDA, 0xFE, 0x00}),
                 flow_control_not_listed);
  EXPECT_TRUE(flow(extended_id(0x18EC03F9), {0x11, 2, 1, 0xFF, 0xFF, 0xDA, 0xFE, 0x00}));
}

TEST_F(GuardGroupTest, AbortsWithTheReasonsOfTheStandardAlone) {
  ask_for_software_id();
  hear_rts();
  // SAE J1939-21, abort reasons 1…9 (from memory)
  EXPECT_REFUSED(flow(extended_id(0x18EC03F9), {0xFF, 10, 0, 0xFF, 0xFF, 0xDA, 0xFE, 0}),
                 flow_control_not_listed);
  EXPECT_TRUE(flow(extended_id(0x18EC03F9), {0xFF, 9, 0, 0xFF, 0xFF, 0xDA, 0xFE, 0}));
}

TEST_F(GuardGroupTest, ControlsNoOtherGroupThanTheOneThatIsSent) {
  ask_for_software_id();
  hear_rts();
  EXPECT_REFUSED(flow(extended_id(0x18EC03F9), {0x11, 3, 1, 0xFF, 0xFF, 0xEC, 0xFE, 0x00}), no_own_request);
}

TEST_F(GuardGroupTest, ASessionLivesByItsPacketsAndDiesWithoutThem) {
  const Bytes grant{0x11, 1, 1, 0xFF, 0xFF, 0xDA, 0xFE, 0x00};
  ask_for_software_id();
  hear_rts();
  wait(milliseconds{1200});
  hear(extended_id(0x1CEBF903), {1, 2, 3, 4, 5, 6, 7, 8});
  wait(milliseconds{1200});
  ask(at(extended_id(0x18EA04F9)), {0xDA, 0xFE, 0x00});  // what is asked of others does not end it
  EXPECT_TRUE(flow(extended_id(0x18EC03F9), grant));
  auto remote = data_frame(now_, kBus, extended_id(0x1CEBF903), Bytes{});
  remote.kind = FrameKind::remote;
  guard_.on_frame(remote);
  wait(milliseconds{100});
  EXPECT_REFUSED(flow(extended_id(0x18EC03F9), grant), no_own_request);  // a remote frame is no packet
}

TEST_F(GuardGroupTest, IsASessionOnlyForAsLongAsTheUnitSaysSo) {
  ask_for_software_id();
  hear_rts();
  hear(extended_id(0x1CECF903), {0xFF, 0x01, 0xFF, 0xFF, 0xFF, 0xDA, 0xFE, 0x00});  // SAE J1939-21, abort
  EXPECT_REFUSED(flow(extended_id(0x18EC03F9), {0x11, 1, 1, 0xFF, 0xFF, 0xDA, 0xFE, 0x00}), no_own_request);
}

TEST_F(GuardGroupTest, SendsAGroupRequestNeverAsFlowControlAndNothingBesideAnotherTool) {
  ask_for_software_id();
  hear_rts();
  EXPECT_REFUSED(flow(extended_id(0x18EA03F9), {0xDA, 0xFE, 0x00}), identifier_not_listed);
  hear(extended_id(0x18EEFFF9), {1, 2, 3, 4, 5, 6, 7, 8});
  EXPECT_REFUSED(flow(extended_id(0x18EC03F9), {0x11, 3, 1, 0xFF, 0xFF, 0xDA, 0xFE, 0x00}),
                 identifier_in_use);
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

}  // namespace
}  // namespace sumplog::guard_test
