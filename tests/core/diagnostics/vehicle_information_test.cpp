#include "core/diagnostics/interpreter_fixture.h"

namespace sumplog {
namespace {

using testing::Texts;

constexpr std::string_view kVin = "1M8GDM9AXKP042788";  // worked example of 49 CFR 565

std::string hex_of(std::string_view text) {
  constexpr char kDigits[] = "0123456789ABCDEF";
  std::string hex;
  for (const char c : text) {
    hex += kDigits[static_cast<unsigned char>(c) >> 4];
    hex += kDigits[static_cast<unsigned char>(c) & 15];
  }
  return hex;
}

// Layouts: SAE J1979 service 09 as scapy 2.5.0 and tshark 4.0.17 decode them.
class VehicleInformation : public testing::InterpreterTest {
 protected:
  VehicleInformation() : InterpreterTest(std::vector<Decoder>{}) {}
};

TEST_F(VehicleInformation, TheVinComesWithItsCheckDigit) {
  exchange("0902", "490201" + hex_of(kVin));
  ASSERT_EQ(vehicle().size(), 1U);
  EXPECT_EQ(vehicle().front().vin, kVin);
  EXPECT_EQ(vehicle().front().vin_check_digit, true);
  EXPECT_EQ(vehicle().front().ecu, "7E8");
  EXPECT_EQ(losses(), Texts{});
}

TEST_F(VehicleInformation, AVinWithoutAFittingCheckDigitIsStillAVin) {
  exchange("0902", "490201" + hex_of("XXXZZZ00ZXX000001"));  // invented
  ASSERT_EQ(vehicle().size(), 1U);
  EXPECT_EQ(vehicle().front().vin_check_digit, false);
}

TEST_F(VehicleInformation, ThePaddingOfAVinIsTakenOff) {
  exchange("0902", "490201000000" + hex_of(kVin));
  ASSERT_EQ(vehicle().size(), 1U);
  EXPECT_EQ(vehicle().front().vin, kVin);
}

TEST_F(VehicleInformation, TheSameVinAgainIsNoNewsButAnotherOneIs) {
  exchange("0902", "490201" + hex_of(kVin));
  exchange("0902", "490201" + hex_of(kVin));
  EXPECT_EQ(vehicle().size(), 1U);
  exchange("0902", "490201" + hex_of("11111111111111111"));
  EXPECT_EQ(vehicle().size(), 2U);
}

TEST_F(VehicleInformation, WhatIsNoVinIsALossAndNeverShown) {
  for (const std::string& data : {std::string{}, hex_of(kVin.substr(1)), std::string(34, 'F'),
                                  hex_of("IOQ45678901234567"), std::string(34, '0')}) {
    events_.clear();
    exchange("0902", "490201" + data);
    EXPECT_TRUE(vehicle().empty()) << data;
    EXPECT_EQ(losses(), Texts{"VIN: not 17 characters of the VIN alphabet"}) << data;
  }
}

TEST_F(VehicleInformation, TheVinMayAlsoComeByIdentifier) {
  exchange("22F190", "62F190" + hex_of(kVin));  // ISO 14229-1, DID F190
  ASSERT_EQ(vehicle().size(), 1U);
  EXPECT_EQ(vehicle().front().vin, kVin);
}

TEST_F(VehicleInformation, CalibrationIdentificationsHaveSixteenBytesEach) {
  exchange("0904", "490401" + hex_of("CALID-0123456789"));  // sample that scapy 2.5.0 decodes
  ASSERT_EQ(vehicle().size(), 1U);
  EXPECT_EQ(vehicle().front().calibration_ids, Texts{"CALID-0123456789"});
  exchange("0904", "490402" + hex_of("CALID-0123456789") + hex_of("SHORT") + std::string(22, '0'));
  ASSERT_EQ(vehicle().size(), 2U);
  EXPECT_EQ(vehicle().back().calibration_ids, (Texts{"CALID-0123456789", "SHORT"}));
  EXPECT_EQ(losses(), Texts{});
}

TEST_F(VehicleInformation, CalibrationVerificationNumbersAreHex) {
  exchange("0906", "4906011791BC82");  // sample that scapy 2.5.0 decodes
  ASSERT_EQ(vehicle().size(), 1U);
  EXPECT_EQ(vehicle().front().cvn, Texts{"1791BC82"});
  exchange("0906", "4906021791BC82000000FF");
  EXPECT_EQ(vehicle().back().cvn, (Texts{"1791BC82", "000000FF"}));
  EXPECT_EQ(losses(), Texts{});
}

TEST_F(VehicleInformation, ANumberOfItemsThatTheDataDoNotHoldIsALoss) {
  exchange("0906", "4906021791BC82");
  EXPECT_EQ(vehicle().back().cvn, Texts{"1791BC82"}) << "what is whole is shown";
  EXPECT_EQ(losses(), Texts{"vehicle information: wrong length"});
}

TEST_F(VehicleInformation, ACutItemIsALoss) {
  exchange("0906", "4906011791BC");
  exchange("0904", "490401414243");
  exchange("0906", "490601");
  EXPECT_TRUE(vehicle().empty());
  EXPECT_EQ(losses().size(), 3U);
}

TEST_F(VehicleInformation, TheNameOfTheUnitKeepsBothItsParts) {
  // tshark 4.0.17 cuts the name at its first NUL; scapy 2.5.0 shows all 20 bytes.
  exchange("090A", "490A01" + hex_of("TCM") + "00" + hex_of("-TransmissionCtl"));
  ASSERT_EQ(vehicle().size(), 1U);
  EXPECT_EQ(vehicle().front().name, "TCM -TransmissionCtl");
}

TEST_F(VehicleInformation, BytesThatAreNotTextBecomeQuestionMarks) {
  exchange("090A", "490A01" + hex_of("EC") + "01FF" + hex_of("M"));
  EXPECT_EQ(vehicle().front().name, "EC??M");
}

TEST_F(VehicleInformation, AnAnswerWithoutItsNumberOfItemsIsALoss) {
  exchange("0902", "4902");
  EXPECT_EQ(losses(), Texts{"vehicle information: wrong length"});
}

TEST_F(VehicleInformation, SupportAndCountsAreNotShown) {
  exchange("0900", "490055400000");
  exchange("0901", "490105");
  exchange("0908", "490801000102");
  EXPECT_TRUE(events_.empty());
}

TEST_F(VehicleInformation, WhatIsTornLaterDoesNotTakeBackWhatWasKnown) {
  exchange("0904", "490401" + hex_of("CALID-0123456789"));
  exchange("0906", "4906011791BC82");
  exchange("090A", "490A01" + hex_of("TCM"));
  events_.clear();
  exchange("0904", "490401414243");
  exchange("0906", "4906011791BC");
  exchange("090A", "490A01000000");
  EXPECT_TRUE(vehicle().empty());
  // … and is no news when it comes again
  exchange("0904", "490401" + hex_of("CALID-0123456789"));
  exchange("0906", "4906011791BC82");
  exchange("090A", "490A01" + hex_of("TCM"));
  EXPECT_TRUE(vehicle().empty());
}

TEST_F(VehicleInformation, TwoUnitsAreKeptApart) {
  exchange("0906", "4906011791BC82", standard_id(0x7E8));
  exchange("0906", "4906011791BC82", standard_id(0x7E9));
  ASSERT_EQ(vehicle().size(), 2U);
  EXPECT_EQ(vehicle()[0].ecu, "7E8");
  EXPECT_EQ(vehicle()[1].ecu, "7E9");
}

}  // namespace
}  // namespace sumplog
