#include "core/capture/pcap_reader.h"

#include <gmock/gmock.h>

#include "core/capture/binary_capture.h"
#include "core/capture/reading.h"

namespace sumplog {
namespace {

using capture_test::BinaryCapture;
using capture_test::from_hex;
using capture_test::read_whole;
using capture_test::Reading;
using testing::ElementsAre;

Reading read(std::string_view bytes) {
  return read_whole(CaptureForm::pcap, bytes);
}

constexpr std::uint32_t kMicro = 0xA1B2C3D4;  // pcap-savefile(5)
constexpr std::uint32_t kNano = 0xA1B23C4D;   // pcap-savefile(5)
const std::string kPacket = from_hex("00 00 07 e8 08 00 00 00 03 41 05 7b 00 00 00 00");

TEST(PcapReader, BothByteOrdersAndBothResolutionsAreRead) {
  for (const bool big : {false, true}) {
    BinaryCapture micro(big);
    micro.pcap_header(kMicro).pcap_record(1700000000, 123456, kPacket).pcap_record(1700000001, 0, kPacket);
    EXPECT_THAT(read(micro.bytes).items, ElementsAre("(1700000000.123456) can0 7E8#0341057B00000000",
                                                     "(1700000001.000000) can0 7E8#0341057B00000000"));
    BinaryCapture nano(big);
    nano.pcap_header(kNano).pcap_record(1700000000, 123456999, kPacket);
    EXPECT_THAT(read(nano.bytes).items, ElementsAre("(1700000000.123456) can0 7E8#0341057B00000000"));
    EXPECT_EQ(read(nano.bytes).ending.kind, EndKind::clean);
  }
}

TEST(PcapReader, SecondsAreUnsignedSoThatTheYear2100IsNotBefore1970) {
  BinaryCapture capture(false);
  capture.pcap_header().pcap_record(4102444800, 0, kPacket);
  EXPECT_THAT(read(capture.bytes).items, ElementsAre("(4102444800.000000) can0 7E8#0341057B00000000"));
}

TEST(PcapReader, ACaptureWithoutRecordsIsClean) {
  BinaryCapture capture(false);
  EXPECT_EQ(read(capture.pcap_header().bytes).ending.kind, EndKind::clean);
}

TEST(PcapReader, OtherLinkTypesAreRefused) {
  BinaryCapture capture(false);
  capture.pcap_header(kMicro, 1).pcap_record(1, 0, kPacket);
  const Reading reading = read(capture.bytes);
  EXPECT_THAT(
      reading.items,
      ElementsAre("0 unreadable 1: link type 1; only 227 (CAN) is read; nothing behind it can be read"));
  EXPECT_EQ(reading.ending.kind, EndKind::corrupt);
}

TEST(PcapReader, AFileThatIsNoPcapIsRefused) {
  EXPECT_EQ(read(std::string(40, 'x')).ending.why,
            "the file header has no pcap magic number; nothing behind it can be read");
}

TEST(PcapReader, ABadRecordIsSaidAndReadingGoesOn) {
  BinaryCapture capture(false);
  capture.pcap_header()
      .pcap_record(1, 0, kPacket)
      .pcap_record(2, 1000000, kPacket)
      .pcap_record(3, 0, kPacket.substr(0, 10))
      .pcap_record(4, 0, kPacket);
  const Reading reading = read(capture.bytes);
  EXPECT_THAT(reading.items, ElementsAre("(0000000001.000000) can0 7E8#0341057B00000000",
                                         "1000000 unreadable 2: the fraction of the time is a second or more",
                                         "1000000 unreadable 3: the packet holds 2 of 8 data bytes",
                                         "(0000000004.000000) can0 7E8#0341057B00000000"));
  EXPECT_EQ(reading.ending.kind, EndKind::corrupt);
  EXPECT_EQ(reading.ending.line, 2U);
  EXPECT_EQ(reading.ending.bad_records, 2U);
}

TEST(PcapReader, ARecordOfNonsenseLengthEndsTheReading) {
  BinaryCapture capture(false);
  capture.pcap_header()
      .pcap_record(1, 0, kPacket)
      .pcap_record(2, 0, std::string(5000, 'x'))
      .pcap_record(3, 0, kPacket);
  const Reading reading = read(capture.bytes);
  EXPECT_THAT(reading.items,
              ElementsAre("(0000000001.000000) can0 7E8#0341057B00000000",
                          "1000000 unreadable 2: a record of 5000 bytes; nothing behind it can be read"));
  EXPECT_EQ(reading.ending.kind, EndKind::corrupt);
}

TEST(PcapReader, TruncatedAtEveryByteItIsCleanOrTornAndKeepsItsWholeRecords) {
  BinaryCapture capture(true);
  capture.pcap_header().pcap_record(1, 0, kPacket).pcap_record(2, 0, kPacket);
  const std::size_t record = 16 + kPacket.size();
  for (std::size_t n = 0; n <= capture.bytes.size(); ++n) {
    const Reading reading = read(std::string_view(capture.bytes).substr(0, n));
    const bool whole = n == 0 || (n >= 24 && (n - 24) % record == 0);
    EXPECT_EQ(reading.ending.kind, whole ? EndKind::clean : EndKind::torn) << n;
    EXPECT_EQ(reading.items.size(), n < 24 ? 0 : (n - 24) / record) << n;
    const std::size_t rest = n < 24 ? n : (n - 24) % record;
    EXPECT_EQ(reading.ending.bytes, rest) << n;
  }
}

TEST(PcapReader, AFileWhoseEndIsKnownBeforeItWasReadIsReadToItsEnd) {
  BinaryCapture capture(false);
  capture.pcap_header().pcap_record(1, 0, kPacket).pcap_record(2, 0, kPacket);
  const auto reader = make_pcap_reader();
  reader->on_bytes(capture.bytes);
  reader->on_end();
  EXPECT_NE(reader->next(), nullptr);
  EXPECT_NE(reader->next(), nullptr);
  EXPECT_EQ(reader->next(), nullptr);
  EXPECT_EQ(reader->ending().kind, EndKind::clean);
}

}  // namespace
}  // namespace sumplog
