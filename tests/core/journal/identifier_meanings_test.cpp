#include "core/journal/identifier_meanings.h"

#include <gtest/gtest.h>

namespace sumplog {
namespace {

Meaning meaning(bool any) {
  Meaning of;
  of.broadcast = any;
  return of;
}

/// As Layers asks: what is not remembered is found out and remembered.
template <class FindOut>
Meaning ask(IdentifierMeanings& meanings, CanId id, FindOut find_out) {
  if (const Meaning* const known = meanings.of(id)) return *known;
  const Meaning found = find_out(id);
  meanings.remember(id, found);
  return found;
}

TEST(IdentifierMeanings, AreTheSameForIdentifiersThatShareAPlaceToo) {
  IdentifierMeanings meanings;
  const auto wanted = [](CanId id) { return id.value % 3 == 1 || (id.extended && id.value % 7 == 2); };
  const auto find_out = [&](CanId id) { return meaning(wanted(id)); };
  // Twice, so that remembered answers are looked at as well; steps of a prime meet every place several times.
  for (int round = 0; round < 2; ++round) {
    for (std::uint32_t value = 0; value <= 0x7FF; ++value)
      EXPECT_EQ(ask(meanings, standard_id(value), find_out).any(), wanted(standard_id(value))) << value;
    for (std::uint32_t value = 0; value <= 0x1FFFFFFF; value += 10007)
      ASSERT_EQ(ask(meanings, extended_id(value), find_out).any(), wanted(extended_id(value))) << value;
  }
}

TEST(IdentifierMeanings, SevenE8OfElevenBitsIsNotSevenE8OfTwentyNine) {
  IdentifierMeanings meanings;
  const auto standard_alone = [](CanId id) { return meaning(!id.extended); };
  EXPECT_TRUE(ask(meanings, standard_id(0x7E8), standard_alone).any());
  EXPECT_FALSE(ask(meanings, extended_id(0x7E8), standard_alone).any());
  EXPECT_TRUE(ask(meanings, standard_id(0x7E8), standard_alone).any());
}

TEST(IdentifierMeanings, AreFoundOutOnceForEachIdentifierOfElevenBits) {
  IdentifierMeanings meanings;
  int asked = 0;
  for (int round = 0; round < 5; ++round)
    for (std::uint32_t value = 0; value <= 0x7FF; ++value)
      (void)ask(meanings, standard_id(value), [&](CanId) {
        ++asked;
        return meaning(true);
      });
  EXPECT_EQ(asked, 0x800);
}

}  // namespace
}  // namespace sumplog
