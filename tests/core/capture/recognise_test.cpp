#include <gtest/gtest.h>

#include "core/capture/binary_capture.h"
#include "core/capture/reader.h"

namespace sumplog {
namespace {

using capture_test::BinaryCapture;

CaptureForm form_of(std::string_view beginning) {
  const auto form = recognise(beginning);
  EXPECT_TRUE(form.has_value()) << (form ? "" : form.error().text());
  return form.value_or(CaptureForm::csv);
}

std::string refusal(std::string_view beginning) {
  const auto form = recognise(beginning);
  EXPECT_FALSE(form.has_value());
  return form ? "" : form.error().text();
}

TEST(Recognise, EveryFormByItsFirstBytes) {
  EXPECT_EQ(form_of("(1700000000.123456) can0 7E8#0102\n"), CaptureForm::candump);
  EXPECT_EQ(form_of("\n# a comment\n(1700000000.123456) can0 7E8#0102\n"), CaptureForm::candump);
  EXPECT_EQ(form_of("# sumplog-job 1\n# {\"t\":1.000000}\n"), CaptureForm::job_file);
  EXPECT_EQ(form_of("date Tue Nov 14 10:13:20.000 pm 2023\n"), CaptureForm::asc);
  EXPECT_EQ(form_of("// a comment\nbase hex  timestamps absolute\r\n"), CaptureForm::asc);
  EXPECT_EQ(form_of("t_s,temp_c\n0,40\n"), CaptureForm::csv);
  EXPECT_EQ(form_of("\xEF\xBB\xBF\"rpm\",\"temp_c\",\"t_s\"\r\n"), CaptureForm::csv);
  for (const bool big : {false, true}) {
    EXPECT_EQ(form_of(BinaryCapture(big).pcap_header().bytes), CaptureForm::pcap);
    EXPECT_EQ(form_of(BinaryCapture(big).pcap_header(0xA1B23C4D).bytes), CaptureForm::pcap);
    EXPECT_EQ(form_of(BinaryCapture(big).section().interface().bytes), CaptureForm::pcapng);
  }
}

TEST(Recognise, AJobFileWhoseFirstLineIsDamagedIsStillAJobFile) {
  EXPECT_EQ(form_of("# sumplxg-job 1\n# {\"t\":1.000000,\"item\":\"settings\"}\n(1.0) can0 7E8#01\n"),
            CaptureForm::job_file);
}

TEST(Recognise, ALogThatIsTornOrDamagedInItsFirstLinesIsStillALog) {
  EXPECT_EQ(form_of("(1700000000.12"), CaptureForm::candump);
  EXPECT_EQ(form_of("rubbish\n(1700000000.123456) can0 7E8#0102\n"), CaptureForm::candump);
  EXPECT_EQ(form_of(std::string("\x0A\x0D\x0D\x0A\x1C\x00", 6)), CaptureForm::pcapng);
}

TEST(Recognise, SeveralDamagedLinesOfALogAreALog) {
  EXPECT_EQ(form_of("(1700000000.5) can0 7E\n(1700000001.5) can0 7\nx\n"), CaptureForm::candump);
}

TEST(Recognise, WhatOnlyLooksLikeAFormIsRefused) {
  for (const char* text :
       {"base oct\n", "Begin here\n", "date\n", "can0  7E8   [eight]  06\n", "a  [ without its end\n",
        "(x) can0\n", "(\n", "(:) \n", "(+1.5) can0\n", "can0  7E8#  [8]\n", "time,temp\nt_s,temp_c\n0,40\n"})
    EXPECT_NE(refusal(text).find("the input is no capture"), std::string::npos) << text;
  EXPECT_EQ(form_of("Begin Triggerblock\n"), CaptureForm::asc);
  EXPECT_EQ(form_of("base dec\n"), CaptureForm::asc);
}

TEST(Recognise, AnEmptyInputAndRubbishAreRefusedWithThePossibleForms) {
  const std::string forms =
      "possible are a candump log, a job file, pcap or pcapng with link type 227, an ASC text log, and a CSV "
      "that "
      "begins with t_s,temp_c";
  EXPECT_EQ(refusal(""), "the input is empty; " + forms);
  EXPECT_EQ(refusal("hello\n"),
            "the input is no capture: it begins with the bytes 68 65 6C 6C 6F 0A; " + forms);
  EXPECT_EQ(refusal("\x7F"
                    "ELF\x02\x01\x01 and more"),
            "the input is no capture: it begins with the bytes 7F 45 4C 46 02 01 01 20; " + forms);
  EXPECT_EQ(refusal(std::string(5000, '\0')),
            "the input is no capture: it begins with the bytes 00 00 00 00 00 00 00 00; " + forms);
  EXPECT_EQ(refusal("\xD4\xC3\xB2\xA1"),
            "the input is no capture: it begins with the bytes D4 C3 B2 A1; " + forms)
      << "a pcap of four bytes";
  EXPECT_EQ(refusal("# only a comment\n"),
            "the input is no capture: it begins with the bytes 23 20 6F 6E 6C 79 20 61; " + forms);
}

TEST(Recognise, WhatIsNearlyRightIsRefusedWithTheWayOut) {
  const std::string screen =
      "this is what candump shows on the screen, not its log; record with candump -l, or with candump -L and "
      "a "
      "redirection";
  EXPECT_EQ(refusal("  can0  7E8   [8]  06 41 00 BE 3F A8 13 00\n"), screen);
  EXPECT_EQ(refusal(" (1700000000.123456)  can0  7E8   [8]  06 41 00 BE 3F A8 13 00\n"), screen);
  EXPECT_EQ(refusal("\x1F\x8B\x08\x00"), "the input is packed; unpack it first");
  EXPECT_EQ(refusal("PK\x03\x04"), "the input is packed; unpack it first");
  const std::string ethernet =
      "the capture has link type 1; only 227 (CAN) can be read; capture on the CAN interface itself";
  EXPECT_EQ(refusal(BinaryCapture(false).pcap_header(0xA1B2C3D4, 1).bytes), ethernet);
  EXPECT_EQ(refusal(BinaryCapture(true).section().interface({}, 1).bytes), ethernet);
  EXPECT_EQ(refusal("t_s,oil_c\n0,40\n"),
            "CSV of readings: column 'oil_c' is not known; t_s, temp_c, rpm, speed_kmh and coolant_c are");
  EXPECT_EQ(
      refusal("t_s;temp_c\n0;40\n"),
      "CSV of readings: column 't_s;temp_c' is not known; t_s, temp_c, rpm, speed_kmh and coolant_c are");
}

TEST(MakeReader, EveryFormHasOne) {
  for (const CaptureForm form : {CaptureForm::candump, CaptureForm::job_file, CaptureForm::pcap,
                                 CaptureForm::pcapng, CaptureForm::asc, CaptureForm::csv}) {
    const auto reader = make_reader(form);
    ASSERT_TRUE(reader);
    reader->on_end();
    EXPECT_FALSE(reader->next());
    EXPECT_EQ(reader->ending().kind, EndKind::clean);
  }
}

}  // namespace
}  // namespace sumplog
