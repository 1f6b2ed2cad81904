#include <gtest/gtest.h>

#include "core/capture/binary_capture.h"
#include "core/capture/reading.h"
#include "core/capture/writer.h"

namespace sumplog {
namespace {

using capture_test::any_frame;
using capture_test::BinaryCapture;
using capture_test::from_hex;
using capture_test::read_in_pieces;
using capture_test::read_whole;
using capture_test::Reading;

struct Sample {
  CaptureForm form;
  std::string bytes;
};

std::string written(WrittenForm form) {
  std::mt19937 random(5);
  const auto writer = make_writer(form);
  std::string out;
  for (int i = 0; i < 40; ++i) writer->on_item(any_frame(random), out);
  writer->on_end(out);
  return out;
}

/// One capture of each form, with damage in its middle and a fragment at its end.
std::vector<Sample> samples() {
  const std::string packet = from_hex("00 00 07 e8 03 00 00 00 02 41 05");
  BinaryCapture pcap(true);
  pcap.pcap_header().pcap_record(1, 2, packet).pcap_record(3, 4, "short").pcap_record(5, 6, packet);
  BinaryCapture pcapng(true);
  pcapng.section()
      .interface()
      .packet(0, 1, packet)
      .block(6, "bad")
      .block(77, std::string(3000, 'x'))
      .packet(0, 2, packet);
  return {{CaptureForm::candump,
           written(WrittenForm::candump) + "rubbish\n\n# comment\r\n(1.0) can0 7E8#01\r\n(2.0) can0 7"},
          {CaptureForm::asc, written(WrittenForm::asc) + "rubbish\n9.0 1 100 Rx d 1 0"},
          {CaptureForm::pcapng, written(WrittenForm::pcapng) + pcapng.bytes + "\x06\x05"},
          {CaptureForm::pcap, pcap.bytes + "fragment"},
          {CaptureForm::csv, "t_s,temp_c,rpm\n0,40,\n1,x,800\n2,41,800\n3,4"}};
}

TEST(EveryReader, GivesTheSameItemsWhateverWayTheBytesAreCut) {
  std::mt19937 random(9);
  for (const Sample& sample : samples()) {
    const Reading whole = read_whole(sample.form, sample.bytes);
    EXPECT_EQ(whole.ending.kind, EndKind::corrupt);
    EXPECT_GT(whole.ending.bytes, 0U);
    EXPECT_EQ(read_in_pieces(sample.form, sample.bytes, [] { return 1U; }), whole);
    for (int round = 0; round < 50; ++round)
      EXPECT_EQ(read_in_pieces(sample.form, sample.bytes, [&] { return 1U + random() % 300; }), whole);
  }
}

TEST(EveryReader, CutAnywhereTheInputNeverGivesAnItemThatTheWholeDoesNotGive) {
  for (const Sample& sample : samples()) {
    const Reading whole = read_whole(sample.form, sample.bytes);
    for (std::size_t n = 0; n < sample.bytes.size(); ++n) {
      const Reading part = read_whole(sample.form, std::string_view(sample.bytes).substr(0, n));
      ASSERT_LE(part.items.size(), whole.items.size());
      ASSERT_TRUE(std::equal(part.items.begin(), part.items.end(), whole.items.begin())) << n;
    }
  }
}

TEST(EveryReader, DamagedBytesNeverMisbehaveAndEveryBadRecordIsCounted) {
  std::mt19937 random(77);
  for (const Sample& sample : samples()) {
    for (int round = 0; round < 1500; ++round) {
      std::string bytes = sample.bytes;
      for (std::uint32_t n = 1 + random() % 4; n > 0; --n)
        bytes[random() % bytes.size()] = static_cast<char>(random() % 256);
      if (random() % 4 == 0) bytes.erase(random() % bytes.size(), 1 + random() % 20);
      if (random() % 4 == 0) bytes.insert(random() % bytes.size(), std::string(1 + random() % 20, '\0'));
      const Reading reading = read_in_pieces(sample.form, bytes, [&] { return 1U + random() % 4096; });
      ASSERT_EQ(reading.unreadable().size(), reading.ending.bad_records);
      ASSERT_EQ(reading.ending.kind == EndKind::corrupt, reading.ending.bad_records > 0);
      (void)recognise(std::string_view(bytes).substr(0, 4096));
    }
  }
}

TEST(EveryReader, RandomBytesAreSurvivedByEveryForm) {
  std::mt19937 random(78);
  for (int round = 0; round < 300; ++round) {
    std::string bytes(random() % 3000, '\0');
    for (char& c : bytes) c = static_cast<char>(random() % 256);
    for (const CaptureForm form :
         {CaptureForm::candump, CaptureForm::pcap, CaptureForm::pcapng, CaptureForm::asc, CaptureForm::csv}) {
      const Reading reading = read_whole(form, bytes);
      ASSERT_EQ(reading.unreadable().size(), reading.ending.bad_records);
    }
    (void)recognise(bytes);
  }
}

}  // namespace
}  // namespace sumplog
