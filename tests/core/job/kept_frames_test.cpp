#include "core/job/kept_frames.h"

#include <gtest/gtest.h>

#include <vector>

namespace sumplog {
namespace {

CanFrame frame(CanId id, FrameKind kind = FrameKind::data) {
  CanFrame one =
      data_frame(at_micros(0), BusName("can0"), id, std::vector<std::uint8_t>{1, 2, 3, 4, 5, 6, 7, 8});
  one.kind = kind;
  return one;
}
Signal signal_from(Source source) {
  Signal signal;
  signal.source = source;
  return signal;
}
/// A unit at 6F1 and 612, and a broadcast; `group` has the decoder read a group too.
Decoder decoder(bool group) {
  Decoder out;
  out.units.push_back(
      {"behind", {standard_id(0x6F1), standard_id(0x612), AddressingMode::extended, 0x12, 0xF1}, 1});
  out.signals.push_back(signal_from(BroadcastSource{standard_id(0x321)}));
  if (group) out.signals.push_back(signal_from(SpnSource{65272, 177, std::nullopt}));
  return out;
}

TEST(KeptFrames, AreTheDiagnosticOnesAndThoseThatADecoderNames) {
  const KeptFrames kept({decoder(false)});
  for (const std::uint32_t id : {0x7DFU, 0x7E1U, 0x7E9U, 0x6F1U, 0x612U, 0x321U})
    EXPECT_TRUE(kept.keeps(frame(standard_id(id)))) << std::hex << id;
  EXPECT_TRUE(kept.keeps(frame(extended_id(0x18DAF118))));
  EXPECT_FALSE(kept.keeps(frame(standard_id(0x322))));
  EXPECT_FALSE(kept.keeps(frame(extended_id(0x321))));
}

TEST(KeptFrames, OfJ1939AreOnlyThereWhereADecoderReadsAGroup) {
  const KeptFrames without({decoder(false)});
  const KeptFrames with({decoder(true)});
  // SAE J1939-21: TP.CM, TP.DT, request, acknowledgement; -81: address claimed; -73: DM1, DM2; the group that is read
  for (const std::uint32_t id : {0x1CECFF03U, 0x1CEBFF03U, 0x18EA03F9U, 0x18E8FF03U, 0x18EEFF03U, 0x18FECA03U,
                                 0x18FECB03U, 0x18FEF803U}) {
    EXPECT_TRUE(with.keeps(frame(extended_id(id)))) << std::hex << id;
    EXPECT_FALSE(without.keeps(frame(extended_id(id)))) << std::hex << id;
  }
  EXPECT_FALSE(with.keeps(frame(extended_id(0x18FEEE03))));  // another group
  EXPECT_FALSE(with.keeps(frame(standard_id(0x123))));
}

TEST(KeptFrames, ErrorFramesTellSomethingAndRemoteFramesNothing) {
  const KeptFrames kept({decoder(true)});
  EXPECT_TRUE(kept.keeps(frame(standard_id(0x004), FrameKind::error)));
  EXPECT_FALSE(kept.keeps(frame(standard_id(0x7E8), FrameKind::remote)));
}

}  // namespace
}  // namespace sumplog
