#include "app/reading_table.h"

#include <gtest/gtest.h>

namespace sumplog {
namespace {

class ReadingTableTest : public ::testing::Test {
 protected:
  void read(std::int64_t s, const char* signal, std::optional<double> value, const char* ecu,
            const char* bus = "can0") {
    ReadingEvent reading;
    reading.at = at_micros(s * 1000000);
    reading.bus = BusName(bus);
    reading.ecu = ecu;
    reading.signal = signal;
    reading.value = value;
    table_.on_events({reading}, rows_);
  }
  ReadingTable table_;
  std::string rows_;
};

TEST_F(ReadingTableTest, TwoUnitsAreNeverMixed) {
  read(1, "fluid_temperature", 40, "03");
  read(1, "fluid_temperature", 80, "04");
  read(2, "fluid_temperature", 80, "03", "can1");
  read(3, "fluid_temperature", std::nullopt, "04");
  read(3, "fluid_temperature", 41, "03");
  EXPECT_EQ(rows_, "1.000000,40,,,\n3.000000,41,,,\n");
}

TEST_F(ReadingTableTest, NorInWhatStandsBesideTheFluid) {
  read(1, "engine_speed", 800, "00");
  read(1, "engine_speed", 3000, "21");
  read(1, "coolant_temperature", 70, "21");
  read(2, "fluid_temperature", 40, "03");
  EXPECT_EQ(rows_, "2.000000,40,800,,70\n");
}

TEST_F(ReadingTableTest, AUnitThatGaveNoValueIsNoSourceYet) {
  read(1, "fluid_temperature", std::nullopt, "04");
  read(2, "fluid_temperature", 40, "03");
  read(3, "fluid_temperature", 80, "04");
  EXPECT_EQ(rows_, "1.000000,,,,\n2.000000,40,,,\n");
}

}  // namespace
}  // namespace sumplog
