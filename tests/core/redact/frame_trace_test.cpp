#include "core/redact/frame_trace.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>
#include <string_view>

#include "core/isotp/frames.h"
#include "core/item/json_line.h"

namespace sumplog {
namespace {

using ::testing::ElementsAre;
using ::testing::IsEmpty;
using Texts = std::vector<std::string>;

class FrameTraceTest : public ::testing::Test {
 protected:
  void hear(CanId id, std::string_view hex, FrameKind kind = FrameKind::data) {
    CanFrame frame = data_frame(at_micros(0), BusName(bus_), id, isotp_words::bytes(hex));
    frame.kind = kind;
    frame.fd = frame.length > 8;
    trace_.on_frame(index_++, frame, out_);
  }
  /// "7E9 490201 0:2,0:3,1:1": from whom, what, and frame and place of each byte; "?" before an orphan. Taken once.
  Texts told() {
    Texts texts;
    for (const TracedMessage& one : out_) {
      std::string text = (one.orphan ? "?" : "") + ecu_text(one.from.id, one.from.address) + " " +
                         hex_text(one.payload.data(), one.payload.size());
      if (one.group) text += " of " + std::to_string(*one.group);
      std::string places;
      for (const BytePlace& place : one.places)
        places += (places.empty() ? " " : ",") + std::to_string(place.frame) + ":" + std::to_string(place.at);
      texts.push_back(text + places);
    }
    out_.clear();
    return texts;
  }

  FrameTrace trace_{
      AddressBook({{standard_id(0x6F1), standard_id(0x612), AddressingMode::extended, 0x12, 0xF1}})};
  std::string bus_ = "can0";
  std::uint64_t index_ = 0;
  std::vector<TracedMessage> out_;
};

const CanId kUnit = standard_id(0x7E9);

TEST_F(FrameTraceTest, ASingleFrameIsAMessageAndSoIsALongOneOfCanFd) {
  hear(kUnit, "02 41 0C AA AA AA AA AA");
  EXPECT_EQ(told(), Texts{"7E9 410C 0:1,0:2"});
  hear(kUnit, "00 09 62 D1 05 01 02 03 04 05 06 AA");
  EXPECT_EQ(told(), Texts{"7E9 62D105010203040506 1:2,1:3,1:4,1:5,1:6,1:7,1:8,1:9,1:10"});
  hear(standard_id(0x612), "F1 02 41 0C AA AA AA AA");
  EXPECT_EQ(told(), Texts{"612/F1 410C 2:2,2:3"});
}

TEST_F(FrameTraceTest, AMessageOfSeveralFramesRemembersWhereEachByteLay) {
  hear(kUnit, "10 08 62 D1 05 01 02 03");
  hear(kUnit, "30 00 00");  // flow control is nobody's text
  hear(kUnit, "21 04 05 AA AA AA AA AA");
  EXPECT_EQ(told(), Texts{"7E9 62D1050102030405 0:2,0:3,0:4,0:5,0:6,0:7,2:1,2:2"});
}

TEST_F(FrameTraceTest, TheLongLengthOfAFirstFrameStandsBehindItsEscape) {
  hear(kUnit, "10 00 00 00 00 09 62 D1");  // ISO 15765-2:2016, FF_DL in four bytes
  hear(kUnit, "21 05 01 02 03 04 05 06");
  EXPECT_EQ(told(), Texts{"7E9 62D105010203040506 0:6,0:7,1:1,1:2,1:3,1:4,1:5,1:6,1:7"});
}

TEST_F(FrameTraceTest, WhatIsBrokenIsKept) {
  hear(kUnit, "21 05 01 02");  // nothing began it
  EXPECT_EQ(told(), Texts{"?7E9 050102 0:1,0:2,0:3"});
  hear(kUnit, "10 14 49 02 01 31 32 33");
  hear(kUnit, "22 34 35 36 37 38 39 30");  // out of order
  EXPECT_EQ(told().size(), 1U);
  hear(kUnit, "10 14 49 02 01 31 32 33");
  hear(kUnit, "02 41 0C");  // another message begins
  EXPECT_THAT(told(), ElementsAre("7E9 490201313233 3:2,3:3,3:4,3:5,3:6,3:7", "7E9 410C 4:1,4:2"));
  hear(kUnit, "10 14 49 02 01 31 32 33");
  EXPECT_THAT(told(), IsEmpty());
  trace_.on_end(out_);
  EXPECT_EQ(told(), Texts{"7E9 490201313233 5:2,5:3,5:4,5:5,5:6,5:7"});
}

TEST_F(FrameTraceTest, WhatHoldsNothingIsNothing) {
  hear(kUnit, "");
  hear(kUnit, "10");
  hear(standard_id(0x612), "F1");
  hear(kUnit, "02 41 0C", FrameKind::remote);
  hear(kUnit, "F0 00 00");               // a reserved type
  hear(standard_id(0x123), "02 41 0C");  // no diagnostic identifier
  hear(extended_id(0x18FEF803), "");
  hear(extended_id(0x1CECFF03), "20 09 00 02 FF EC FE");     // SAE J1939-21: TP.CM has eight bytes
  hear(extended_id(0x1CECF903), "13 09 00 02 FF EC FE 00");  // … and an acknowledge begins nothing
  trace_.on_end(out_);
  EXPECT_THAT(told(), IsEmpty());
}

TEST_F(FrameTraceTest, AGroupIsAMessageAndOfTransportItsPackets) {
  hear(extended_id(0x18FEF803), "01 02");
  EXPECT_EQ(told(), Texts{"18FEF803 0102 of 65272 0:0,0:1"});
  hear(extended_id(0x1CECFF03), "20 09 00 02 FF EC FE 00");  // SAE J1939-21, BAM: 9 bytes of PGN FEEC
  hear(extended_id(0x1CEBFF03), "01 31 32 33 34 35 36 37");
  hear(extended_id(0x1CEBFF03), "02 38 2A FF FF FF FF FF");
  EXPECT_EQ(told(), Texts{"1CECFF03 31323334353637382A of 65260 2:1,2:2,2:3,2:4,2:5,2:6,2:7,3:1,3:2"});
}

TEST_F(FrameTraceTest, PacketsThatNothingBeganOrThatComeAgainAreKeptApart) {
  hear(extended_id(0x1CEBFF03), "02 31 32");
  EXPECT_EQ(told(), Texts{"?1CEBFF03 3132 0:1,0:2"});
  hear(extended_id(0x1CECF903), "10 09 00 02 FF EC FE 00");  // SAE J1939-21, RTS
  hear(extended_id(0x1CEBF903), "01 31 32 33 34 35 36 37");
  hear(extended_id(0x1CEBF903), "01 31 32");  // asked for again
  EXPECT_EQ(told(), Texts{"?1CEBF903 3132 of 65260 3:1,3:2"});
  hear(extended_id(0x1CECF903), "10 09 00 02 FF EC FE 00");  // begun anew
  EXPECT_EQ(told(), Texts{"1CECF903 31323334353637 of 65260 2:1,2:2,2:3,2:4,2:5,2:6,2:7"});
  hear(extended_id(0x1CECFF03), "20 09 00 02 FF EC FE 00");  // another session beside it
  trace_.on_end(out_);
  EXPECT_EQ(told().size(), 2U);
}

TEST_F(FrameTraceTest, AFirstFrameWithoutALengthBeginsNothing) {
  hear(kUnit, "10 00 37 5A");
  hear(kUnit, "21 42 4B 34 47");
  EXPECT_EQ(told(), Texts{"?7E9 424B3447 1:1,1:2,1:3,1:4"});
  hear(kUnit, "10 00 00 00 00 00 37 5A");
  hear(kUnit, "21 42 4B 34 47");
  EXPECT_EQ(told(), Texts{"?7E9 424B3447 3:1,3:2,3:3,3:4"});
  trace_.on_end(out_);
  EXPECT_THAT(told(), IsEmpty());
}

TEST_F(FrameTraceTest, AConsecutiveFrameThatIsLongerThanTheFirstEndsTheMessage) {
  hear(kUnit, "10 20 49 02 01 31 32 33");
  hear(kUnit, "21 34 35 36 37 38 39 30 41 42 43 44");  // ISO 15765-2: of CAN FD, where the first was none
  EXPECT_THAT(told(), ElementsAre(::testing::StartsWith("7E9 4902013132333435363738393041424344 0:2,")));
}

TEST_F(FrameTraceTest, TheSameAddressOnAnotherBusIsAnotherSession) {
  hear(extended_id(0x1CECFF03), "20 09 00 02 FF EC FE 00");
  bus_ = "can1";
  hear(extended_id(0x1CEBFF03), "01 41 42 43 44 45 46 47");
  EXPECT_EQ(told(), Texts{"?1CEBFF03 41424344454647 1:1,1:2,1:3,1:4,1:5,1:6,1:7"});
  bus_ = "can0";
  hear(extended_id(0x1CEBFF03), "01 31 32 33 34 35 36 37");
  hear(extended_id(0x1CEBFF03), "02 38 2A FF FF FF FF FF");
  EXPECT_THAT(told(), ElementsAre(::testing::StartsWith("1CECFF03 31323334353637382A of 65260 2:1,")));
}

}  // namespace
}  // namespace sumplog
