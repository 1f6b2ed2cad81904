#include "core/capture/pcapng_reader.h"

#include <gmock/gmock.h>

#include <functional>

#include "core/capture/binary_capture.h"
#include "core/capture/reading.h"

namespace sumplog {
namespace {

using capture_test::BinaryCapture;
using capture_test::from_hex;
using capture_test::read_in_pieces;
using capture_test::read_whole;
using capture_test::Reading;
using testing::ElementsAre;

Reading read(std::string_view bytes) {
  return read_whole(CaptureForm::pcapng, bytes);
}

// Blocks and options: draft-ietf-opsawg-pcapng.
const std::string kPacket = from_hex("00 00 07 e8 03 00 00 00 02 41 05");
constexpr std::uint64_t kThen = 1700000000123456;
constexpr std::uint16_t kName = 2;
constexpr std::uint16_t kResolution = 9;
constexpr std::uint16_t kOffset = 14;

TEST(PcapngReader, BothByteOrdersAreRead) {
  for (const bool big : {false, true}) {
    BinaryCapture capture(big);
    capture.section().interface().packet(0, kThen, kPacket);
    const Reading reading = read(capture.bytes);
    EXPECT_THAT(reading.items, ElementsAre("(1700000000.123456) can0 7E8#024105"));
    EXPECT_EQ(reading.ending.kind, EndKind::clean);
  }
}

TEST(PcapngReader, SectionsOfDifferentByteOrderFollowEachOtherAndInterfacesStartAnew) {
  BinaryCapture first(true);
  first.section().interface(first.option(kName, "left")).interface(first.option(kName, "right"));
  first.packet(1, 1, kPacket);
  BinaryCapture second(false);
  second.section().interface(second.option(kName, "third")).packet(0, 2, kPacket).packet(1, 3, kPacket);
  EXPECT_THAT(read(first.bytes + second.bytes).items,
              ElementsAre("(0000000000.000001) right 7E8#024105", "(0000000000.000002) third 7E8#024105",
                          "2 unreadable 8: the packet is of interface 1, which was not described"));
}

TEST(PcapngReader, ABusHasTheNameOfItsInterfaceOrItsNumber) {
  BinaryCapture capture(false);
  capture.section()
      .interface(capture.option(kName, std::string("vcan0\0", 6)) + capture.option(0, ""))
      .interface()
      .interface(capture.option(kName, "my adapter with a long name"))
      .packet(0, 1, kPacket)
      .packet(1, 2, kPacket)
      .packet(2, 3, kPacket);
  EXPECT_THAT(read(capture.bytes).items,
              ElementsAre("(0000000000.000001) vcan0 7E8#024105", "(0000000000.000002) can1 7E8#024105",
                          "(0000000000.000003) my_adapter_with 7E8#024105"));
}

TEST(PcapngReader, TheResolutionAndTheOffsetOfEachInterfaceHoldForItsPackets) {
  for (const bool big : {false, true}) {
    BinaryCapture capture(big);
    const auto resolution = [&](int value) {
      return capture.option(kResolution, std::string(1, static_cast<char>(value)));
    };
    const auto offset = [&](std::int64_t seconds) {
      return capture.option(kOffset, capture.number(static_cast<std::uint64_t>(seconds), 8));
    };
    capture.section()
        .interface(resolution(9))
        .interface(resolution(3))
        .interface(resolution(0))
        .interface(resolution(0x80 | 20))
        .interface(resolution(6) + offset(1700000000))
        .interface(offset(-100))
        .packet(0, 1700000000123456999, kPacket)
        .packet(1, 1700000000123, kPacket)
        .packet(2, 1700000000, kPacket)
        .packet(3, (std::uint64_t{1700000000} << 20) + (1U << 19), kPacket)
        .packet(4, 5, kPacket)
        .packet(5, 1700000000000000, kPacket);
    EXPECT_THAT(read(capture.bytes).items,
                ElementsAre("(1700000000.123456) can0 7E8#024105", "(1700000000.123000) can1 7E8#024105",
                            "(1700000000.000000) can2 7E8#024105", "(1700000000.500000) can3 7E8#024105",
                            "(1700000000.000005) can4 7E8#024105", "(1699999900.000000) can5 7E8#024105"));
  }
}

TEST(PcapngMicros, EveryResolutionIsExactOrSaysThatItDoesNotFit) {
  const auto micros = [](std::uint64_t ticks, int resolution, std::int64_t offset = 0) {
    return pcapng_micros(ticks, PcapngClock{static_cast<std::uint8_t>(resolution), offset});
  };
  constexpr std::uint64_t kMost = ~std::uint64_t{0};
  EXPECT_EQ(micros(999, 9), 0);
  EXPECT_EQ(micros(1000, 9), 1);
  EXPECT_EQ(micros(kMost, 12), 18446744073709);
  EXPECT_EQ(micros(kMost, 127), 0);
  EXPECT_EQ(micros(1, 0), 1000000);
  EXPECT_EQ(micros(kMost, 0), std::nullopt);
  EXPECT_EQ(micros(kMost, 6), std::nullopt);
  EXPECT_EQ(micros(kMost, 0x80 | 64), 999999);
  EXPECT_EQ(micros(kMost, 0x80 | 127), 0);
  EXPECT_EQ(micros(3, 0x80 | 1), 1500000);
  EXPECT_EQ(micros(kMost, 0x80 | 0), std::nullopt);
  EXPECT_EQ(micros(0, 6, -1), -1000000);
  EXPECT_EQ(micros(1, 6, 9223372036854), 9223372036854000001);
  EXPECT_EQ(micros(9223372036854775807U, 6, 1), std::nullopt);
  EXPECT_EQ(micros(0, 6, 9223372036855), std::nullopt);
  EXPECT_EQ(micros(0, 6, std::numeric_limits<std::int64_t>::min()), std::nullopt);
}

TEST(PcapngReader, UnknownBlocksAreSkippedByTheirLengthHoweverLong) {
  BinaryCapture capture(false);
  capture.section()
      .block(0x0000000A, "secrets")
      .interface()
      .block(0x40000BAD, std::string(3U << 20, '\x06'))
      .block(4, "names")
      .packet(0, 1, kPacket);
  const Reading reading = read(capture.bytes);
  EXPECT_THAT(reading.items, ElementsAre("(0000000000.000001) can0 7E8#024105"));
  EXPECT_EQ(reading.ending.kind, EndKind::clean);
}

TEST(PcapngReader, AHugeUnknownBlockThatIsCutIsTornWithItsLengthWhateverWayItComes) {
  BinaryCapture capture(false);
  capture.section().block(0x40000BAD, std::string(3U << 20, 'x'));
  const std::string_view cut = std::string_view(capture.bytes).substr(0, 28 + (2U << 20));
  for (const std::size_t piece : {std::size_t{2000}, std::size_t{1} << 16, cut.size()}) {
    const Reading reading = read_in_pieces(CaptureForm::pcapng, cut, [&] { return piece; });
    EXPECT_EQ(reading.ending.kind, EndKind::torn);
    EXPECT_EQ(reading.ending.line, 2U);
    EXPECT_EQ(reading.ending.bytes, 2U << 20) << piece;
  }
}

TEST(PcapngReader, AHugeUnknownBlockIsSkippedAlsoWhereItsLastLengthComesInTwo) {
  BinaryCapture capture(false);
  capture.section().interface().block(0x40000BAD, std::string(3U << 20, 'x'));
  const std::size_t end = capture.bytes.size();
  capture.packet(0, 1, kPacket);
  for (std::size_t missing = 1; missing < 4; ++missing) {
    std::vector<std::size_t> pieces{std::string::npos, end - missing};
    const Reading reading = read_in_pieces(CaptureForm::pcapng, capture.bytes, [&] {
      const std::size_t n = pieces.back();
      if (pieces.size() > 1) pieces.pop_back();
      return n;
    });
    EXPECT_THAT(reading.items, ElementsAre("(0000000000.000001) can0 7E8#024105")) << missing;
  }
}

TEST(PcapngReader, OptionsOfNoMeaningToUsAndOnesThatAreCutChangeNothing) {
  BinaryCapture capture(false);
  capture.section()
      .interface(capture.option(3, "a description") + capture.option(kName, "can3"))
      .packet(0, 1, kPacket, capture.option(2, "flag") + "cut")
      .packet(0, 2, kPacket, capture.option(4, "half"))  // a count of lost packets has eight bytes
      .block(5, capture.u32(0) + capture.u32(0) + capture.u32(3) + capture.option(4, std::string(8, '\x01')));
  const Reading reading = read(capture.bytes);
  EXPECT_THAT(reading.items,
              ElementsAre("(0000000000.000001) can3 7E8#024105", "(0000000000.000002) can3 7E8#024105"));
  EXPECT_EQ(reading.ending.kind, EndKind::clean);
}

TEST(PcapngReader, OfAnInterfaceThatIsNotReadNoPacketAndNoStatisticsAreSaidAgain) {
  BinaryCapture capture(false);
  capture.section()
      .interface(capture.option(kName, "eth0"), 1)
      .block(3, capture.u32(8) + "ethernet")
      .block(5, capture.u32(0) + capture.u32(0) + capture.u32(3) + capture.option(5, std::string(8, '\x01')));
  EXPECT_EQ(read(capture.bytes).items.size(), 1U) << "what the interface is";
  BinaryCapture none(false);
  none.section().block(3, none.u32(8) + "ethernet");
  EXPECT_THAT(read(none.bytes).items, ElementsAre("0 unreadable 2: a simple packet block carries no time"));
}

TEST(PcapngReader, ASectionHeaderThatIsTooShortLeavesItsSectionOut) {
  BinaryCapture capture(false);
  capture.block(0x0A0D0D0A, capture.u32(0x1A2B3C4D)).interface().packet(0, 1, kPacket);
  EXPECT_THAT(read(capture.bytes).items,
              ElementsAre("0 unreadable 1: the section header is too short; the section is left out"));
}

TEST(PcapngReader, TheObsoletePacketBlockIsRead) {
  BinaryCapture capture(true);
  const std::string body = capture.u16(0) + capture.u16(3) + capture.u32(0) + capture.u32(7) +
                           capture.u32(kPacket.size()) + capture.u32(kPacket.size()) + kPacket;
  const std::string unknown = capture.u16(0) + capture.u16(0xFFFF) + body.substr(4);
  capture.section().interface().block(2, body).block(2, unknown);
  EXPECT_THAT(read(capture.bytes).items, ElementsAre("7 can0 drops 3", "(0000000000.000007) can0 7E8#024105",
                                                     "(0000000000.000007) can0 7E8#024105"));
}

TEST(PcapngReader, LostPacketsThatTheCaptureCountsBecomeDrops) {
  BinaryCapture capture(false);
  const auto count = [&](std::uint16_t code, std::uint64_t n) {
    return capture.option(code, capture.number(n, 8));
  };
  const auto statistics = [&](std::uint64_t ticks, const std::string& options) {
    capture.block(5, capture.u32(0) + capture.u32(0) + capture.u32(ticks) + options);
  };
  capture.section().interface().packet(0, 5, kPacket, count(4, 2));
  statistics(6, count(5, 2));
  statistics(7, count(5, 3) + count(7, 10));
  EXPECT_THAT(read(capture.bytes).items,
              ElementsAre("5 can0 drops 2", "(0000000000.000005) can0 7E8#024105", "7 can0 drops 11"));
}

TEST(PcapngReader, AnInterfaceOfAnotherLinkTypeIsSaidOnceAndItsPacketsAreLeftOut) {
  BinaryCapture capture(false);
  capture.section()
      .interface(capture.option(kName, "eth0"), 1)
      .interface()
      .packet(0, 1, "ethernet")
      .packet(0, 2, "ethernet")
      .packet(1, 3, kPacket);
  EXPECT_THAT(read(capture.bytes).items, ElementsAre("0 unreadable 2: interface 'eth0' has link type 1; only "
                                                     "227 (CAN) is read, its packets are left out",
                                                     "(0000000000.000003) can1 7E8#024105"));
}

TEST(PcapngReader, EachBadBlockIsSaidAndReadingGoesOn) {
  const auto why = [](const std::function<void(BinaryCapture&)>& bad) {
    BinaryCapture capture(false);
    capture.section().interface();
    bad(capture);
    capture.packet(0, 1, kPacket);
    const Reading reading = read(capture.bytes);
    EXPECT_EQ(reading.items.size(), 2U);
    EXPECT_EQ(reading.items.back(), "(0000000000.000001) can0 7E8#024105");
    EXPECT_EQ(reading.ending.kind, EndKind::corrupt);
    EXPECT_EQ(reading.ending.line, 3U);
    return reading.ending.why;
  };
  EXPECT_EQ(why([](auto& c) { c.packet(0, 1, kPacket.substr(0, 9)); }), "the packet holds 1 of 3 data bytes");
  EXPECT_EQ(why([](auto& c) { c.packet(0, ~std::uint64_t{0}, kPacket); }), "the time is out of range");
  EXPECT_EQ(why([](auto& c) { c.packet(9, 1, kPacket); }),
            "the packet is of interface 9, which was not described");
  EXPECT_EQ(why([](auto& c) { c.block(6, "short"); }), "the packet block is too short");
  EXPECT_EQ(why([](auto& c) { c.block(2, "short"); }), "the packet block is too short");
  EXPECT_EQ(why([](auto& c) { c.block(5, "short"); }), "the statistics block is too short");
  EXPECT_EQ(why([](auto& c) { c.block(5, c.u32(7) + std::string(8, '\0')); }),
            "the block speaks of interface 7, which was not described");
  EXPECT_EQ(why([](auto& c) { c.block(5, c.u32(0) + std::string(8, '\xFF')); }), "the time is out of range");
  EXPECT_EQ(why([](auto& c) { c.block(1, "x"); }), "the interface description is too short");
  EXPECT_EQ(why([](auto& c) { c.block(3, c.u32(kPacket.size()) + kPacket); }),
            "a simple packet block carries no time");
  EXPECT_EQ(why([](auto& c) {
              c.block(6, c.u32(0) + c.u32(0) + c.u32(1) + c.u32(0xFFFFFFF0) + c.u32(11) + kPacket);
            }),
            "the packet is longer than its block");
  EXPECT_EQ(why([](auto& c) { c.block(2, c.u32(0) + c.u32(0) + c.u32(1) + c.u32(12) + c.u32(11)); }),
            "the packet is longer than its block");
}

TEST(PcapngReader, AnInterfaceWithMalformedOptionsIsNotTrustedWithATime) {
  const auto items = [](const std::function<std::string(const BinaryCapture&)>& options) {
    BinaryCapture capture(false);
    capture.section().interface(options(capture)).packet(0, 1, kPacket);
    return read(capture.bytes).items;
  };
  const auto refused =
      ElementsAre("0 unreadable 2: the options of the interface description are malformed",
                  "0 unreadable 3: the packet is of an interface whose description could not be read");
  EXPECT_THAT(items([](const auto& c) { return c.u16(kResolution) + c.u16(400) + std::string("abcd"); }),
              refused);
  EXPECT_THAT(items([](const auto& c) { return c.option(kResolution, "ab"); }), refused);
  EXPECT_THAT(items([](const auto& c) { return c.option(kOffset, "abcd"); }), refused);
  EXPECT_THAT(items([](const auto& c) { return c.option(kOffset, "abcd") + c.option(kResolution, "\x06"); }),
              refused);
  EXPECT_THAT(items([](const auto& c) {
                return c.option(kResolution, "ab") + c.option(kOffset, std::string(8, '\0'));
              }),
              refused);
  EXPECT_THAT(items([](const auto& c) { return c.option(0, "") + "after the end"; }),
              ElementsAre("(0000000000.000001) can0 7E8#024105"));
}

TEST(PcapngReader, ASectionOfAnUnknownVersionIsLeftOutUpToTheNext) {
  BinaryCapture capture(false);
  capture.section(2).interface().packet(0, 1, kPacket).section().interface().packet(0, 2, kPacket);
  EXPECT_THAT(read(capture.bytes).items,
              ElementsAre("0 unreadable 1: version 2 of the form is not known; the section is left out",
                          "(0000000000.000002) can0 7E8#024105"));
}

TEST(PcapngReader, ABlockLengthThatIsNonsenseEndsTheReading) {
  const auto why = [](std::uint32_t type, std::uint32_t length, std::uint32_t again) {
    BinaryCapture capture(false);
    capture.section().interface().packet(0, 1, kPacket);
    capture.bytes += capture.u32(type) + capture.u32(length) + "body" + capture.u32(again);
    capture.packet(0, 2, kPacket);
    const Reading reading = read(capture.bytes);
    EXPECT_EQ(reading.items.size(), 2U) << length;
    EXPECT_EQ(reading.ending.kind, EndKind::corrupt) << length;
    EXPECT_EQ(reading.ending.line, 4U) << length;
    return reading.ending.why;
  };
  EXPECT_EQ(why(6, 0, 0), "a block of 0 bytes; nothing behind it can be read");
  EXPECT_EQ(why(6, 11, 11), "a block of 11 bytes; nothing behind it can be read");
  EXPECT_EQ(why(6, 18, 18), "a block of 18 bytes; nothing behind it can be read");
  EXPECT_EQ(why(6, 16, 20), "the two lengths of the block differ; nothing behind it can be read");
  EXPECT_EQ(why(6, 0x00200000, 0x00200000),
            "a block of type 6 with 2097152 bytes; nothing behind it can be read");
  BinaryCapture huge(false);
  huge.section();
  huge.bytes += huge.u32(0x0A0D0D0A) + huge.u32(0x00200000) + huge.u32(0x1A2B3C4D);
  EXPECT_EQ(read(huge.bytes).ending.why,
            "a block of type 168627466 with 2097152 bytes; nothing behind it can be read");
  EXPECT_EQ(why(0x0A0D0D0A, 28, 28),
            "a section header without byte order magic; nothing behind it can be read");
}

TEST(PcapngReader, AHugeUnknownBlockWhoseSecondLengthDiffersEndsTheReading) {
  BinaryCapture capture(false);
  capture.section().block(0x40000BAD, std::string(2U << 20, 'x'));
  capture.bytes.back() = '\x01';
  capture.interface().packet(0, 2, kPacket);
  EXPECT_EQ(read(capture.bytes).ending.why,
            "the two lengths of the block differ; nothing behind it can be read");
}

TEST(PcapngReader, NothingBehindABlockOfNonsenseIsReadHoweverItComes) {
  BinaryCapture capture(false);
  capture.section().interface().packet(0, 1, kPacket);
  capture.bytes += capture.u32(6) + capture.u32(11) + "body" + capture.u32(11);
  capture.packet(0, 2, kPacket);
  for (const std::size_t piece : {std::size_t{1}, std::size_t{7}, capture.bytes.size()}) {
    const Reading reading = read_in_pieces(CaptureForm::pcapng, capture.bytes, [&] { return piece; });
    EXPECT_EQ(reading.items.size(), 2U) << piece;
    EXPECT_EQ(reading.ending.line, 4U);
  }
}

TEST(PcapngReader, AFileThatIsNoPcapngIsRefused) {
  EXPECT_EQ(read(std::string(40, 'x')).ending.why,
            "the first block is no section header; nothing behind it can be read");
}

TEST(PcapngReader, TruncatedAtEveryByteItIsCleanOrTornAndKeepsItsWholeBlocks) {
  BinaryCapture capture(true);
  std::vector<std::size_t> block_ends{0};
  const auto ended = [&] { block_ends.push_back(capture.bytes.size()); };
  capture.section(), ended();
  capture.interface(capture.option(kName, "can0") + capture.option(0, "")), ended();
  capture.packet(0, 1, kPacket), ended();
  capture.block(0x40000BAD, "unknown"), ended();
  capture.packet(0, 2, kPacket), ended();
  const Reading all = read(capture.bytes);
  ASSERT_EQ(all.items.size(), 2U);
  for (std::size_t n = 0; n <= capture.bytes.size(); ++n) {
    const Reading reading = read(std::string_view(capture.bytes).substr(0, n));
    const auto next_end = std::lower_bound(block_ends.begin(), block_ends.end(), n);
    const bool whole = *next_end == n;
    EXPECT_EQ(reading.ending.kind, whole ? EndKind::clean : EndKind::torn) << n;
    EXPECT_EQ(reading.ending.bytes, whole ? 0 : n - *(next_end - 1)) << n;
    EXPECT_EQ(reading.items.size(), (n >= block_ends[3] ? 1U : 0U) + (n >= block_ends[5] ? 1U : 0U)) << n;
  }
}

TEST(PcapngForeignLinkType, IsThatOfTheFirstInterfaceWhenNoneIsCan) {
  BinaryCapture capture(false);
  capture.section().interface({}, 113);
  EXPECT_EQ(pcapng_foreign_link_type(capture.bytes), 113);
  capture.interface({}, 227);
  EXPECT_EQ(pcapng_foreign_link_type(capture.bytes), std::nullopt);
  EXPECT_EQ(pcapng_foreign_link_type(BinaryCapture(true).section().bytes), std::nullopt);
  EXPECT_EQ(pcapng_foreign_link_type(""), std::nullopt);
}

TEST(PcapngForeignLinkType, OfABeginningThatIsCutOrDamagedIsWhatStandsBefore) {
  BinaryCapture capture(false);
  capture.section().interface({}, 113);
  const std::size_t first = capture.bytes.size();
  capture.interface({}, 1).interface({}, 227);
  EXPECT_EQ(pcapng_foreign_link_type(std::string_view(capture.bytes).substr(0, first + 20)), 113)
      << "the first";
  EXPECT_EQ(pcapng_foreign_link_type(std::string_view(capture.bytes).substr(0, first - 8)), 113)
      << "cut in it";
  std::string damaged = capture.bytes;
  damaged[first + 4] = 8;  // shorter than a block can be: nothing behind it can be found
  EXPECT_EQ(pcapng_foreign_link_type(damaged), 113);
}

}  // namespace
}  // namespace sumplog
