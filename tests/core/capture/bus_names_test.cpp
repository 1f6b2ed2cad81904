#include "core/capture/bus_names.h"

#include <gtest/gtest.h>

namespace sumplog {
namespace {

TEST(BusNames, AnOrdinaryNameStaysAsItIs) {
  BusNames names;
  EXPECT_EQ(names.bus_of("can0").text(), "can0");
  EXPECT_EQ(names.bus_of("exactly15chars_").text(), "exactly15chars_");
  EXPECT_EQ(names.bus_of("can0").text(), "can0");
}

TEST(BusNames, TwoNamesThatAreCutAlikeStayTwoBuses) {
  BusNames names;
  const BusName first = names.bus_of("an-adapter-with-a-long-name/1");
  const BusName second = names.bus_of("an-adapter-with-a-long-name/2");
  const BusName third = names.bus_of("an-adapter-with-a-long-name/3");
  EXPECT_EQ(first.text(), "an-adapter-with");
  EXPECT_EQ(second.text(), "an-adapter-wi~2");
  EXPECT_EQ(third.text(), "an-adapter-wi~3");
  EXPECT_EQ(names.bus_of("an-adapter-with-a-long-name/2"), second);
}

TEST(BusNames, BlanksAndControlCharactersBecomeUnderscores) {
  BusNames names;
  EXPECT_EQ(names.bus_of("my bus\t1\n").text(), "my_bus_1_");
  EXPECT_EQ(names.bus_of("my_bus_1_").text(), "my_bus_1_~2");
  EXPECT_EQ(names.bus_of("B\xC3\xBCs").text(), "B__s");
}

TEST(BusNames, BytesThatAreNoAsciiBecomeUnderscores) {
  BusNames names;
  EXPECT_EQ(names.bus_of("b\xC3\xBCs").text(), "b__s");
  EXPECT_EQ(names.bus_of("bus\x7F").text(), "bus_");
}

TEST(BusNames, AnEmptyNameGetsOne) {
  BusNames names;
  EXPECT_EQ(names.bus_of("").text(), "can");
}

}  // namespace
}  // namespace sumplog
