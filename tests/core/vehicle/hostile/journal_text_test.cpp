#include "core/vehicle/hostile/journal_text.h"

#include <gtest/gtest.h>

namespace sumplog::hostile {
namespace {

TEST(HostileJournalText, TakesAKeyOnlyWhereItIsAKey) {
  const JournalText text(
      R"({"t":1.000000,"why":"kind of a kind","akind":"x","kindly":"y","kind":"loss","last":2})");
  EXPECT_EQ(text.text("kind"), "loss");
  EXPECT_EQ(text.text("last"), "2");
  EXPECT_EQ(text.value("absent"), std::nullopt);
  EXPECT_EQ(JournalText("kind").value("kind"), std::nullopt);
  EXPECT_EQ(JournalText(R"(kind":"loss")").value("kind"), std::nullopt);
}

TEST(HostileJournalText, TakesANumberOnlyWhenAllOfItIsOne) {
  const JournalText text(R"({"a":-1.5,"b":"cold","c":"12 K","d":1e999,"e":null})");
  EXPECT_EQ(text.number("a"), -1.5);
  for (const char* const key : {"b", "c", "d", "e", "f"}) EXPECT_EQ(text.number(key), std::nullopt) << key;
}

TEST(HostileJournalText, TakesTheTimeInMicroseconds) {
  EXPECT_EQ(JournalText(R"({"t":1700000000.000001,"kind":"loss"})").at(), at_micros(1700000000000001));
  EXPECT_EQ(JournalText(R"({"t":"12:30.000000"})").at(), at_micros(1230000000))
      << "of a text its digits alone";
}

}  // namespace
}  // namespace sumplog::hostile
