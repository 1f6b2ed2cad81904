#include "core/learn/fluid_search.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>

#include "core/decoder/decoder.h"
#include "core/j1939/packets.h"
#include "core/learn/learn_sheet.h"
#include "core/learn/learned_decoder.h"
#include "core/learn/next_look.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;

/// A warm-up that begins at `from` and comes near `to`, by Newton's law.
double warm_up(double t_s, double from, double to, double tau_s) {
  return to + (from - to) * std::exp(-t_s / tau_s);
}

/// Ten minutes of an invented car: the fluid in byte 2 of frame 3B2, 1 °C from -40, and around it what a bus carries.
class FluidSearchTest : public ::testing::Test {
 protected:
  static constexpr int kSeconds = 600;
  static double fluid(double t) { return warm_up(t, 18, 75, 900); }
  static double coolant(double t) { return warm_up(t, 18, 95, 260); }

  void record(bool with_fluid = true) {
    for (int t = 0; t < kSeconds; ++t) {
      const auto at = TimePoint{std::chrono::seconds{t}};
      const auto byte = [](double value) { return static_cast<std::uint8_t>(std::lround(value)); };
      const std::uint8_t fluid_raw = with_fluid ? byte(fluid(t) + 40) : std::uint8_t{60};
      hear(0x3B2, {0x10, static_cast<std::uint8_t>(t), fluid_raw, 0, 0xFF, byte(coolant(t) + 40), 7, 9}, at);
      hear(0x1A0,
           {static_cast<std::uint8_t>(t * 37), static_cast<std::uint8_t>(t * t),
            byte(120 + 8 * std::sin(t / 3.0)), 0},
           at);
      if (with_fluid && has_copy_)
        for (int k = 0; k < 5; ++k)
          hear(0x420,
               {0, static_cast<std::uint8_t>((std::lround(fluid(t) * 10) + 400) >> 8),
                static_cast<std::uint8_t>(std::lround(fluid(t) * 10) + 400)},
               at + k * 200ms);
      evidence_.coolant_c.add(at, std::floor(coolant(t)));
      evidence_.ambient_c.add(at, 18);
    }
  }
  void hear(std::uint32_t id, std::vector<std::uint8_t> bytes, TimePoint at) {
    log_.on_frame(data_frame(at, BusName("can0"), standard_id(id), bytes));
  }
  void see(double t, double off = 0) {
    evidence_.seen.push_back({TimePoint{Duration{std::llround(t * 1e6)}}, fluid(t) + off, 1.0});
  }
  [[nodiscard]] SearchResult search() const { return search_fluid(log_, evidence_, TimePoint{}); }

  PayloadLog log_{AddressBook()};
  Evidence evidence_;
  bool has_copy_ = false;
};

TEST_F(FluidSearchTest, TwoReadingsByHandLeadToPlaceAndScale) {
  record();
  see(150);
  see(560, -0.8);
  const SearchResult result = search();
  ASSERT_FALSE(result.signals.empty());
  const Candidate& best = result.signals.front().best();
  EXPECT_EQ(text_of(best.source), "frame 3B2");
  EXPECT_EQ(text_of(best.field), "byte 2");
  EXPECT_EQ(text_of(best.encoding), "raw - 40 °C");
  EXPECT_TRUE(result.confident()) << result.signals.front().probability;
  EXPECT_NEAR(result.signals.front().first_c, fluid(0), 1);
  EXPECT_NEAR(result.signals.front().last_c, fluid(kSeconds - 1), 1);
}

TEST_F(FluidSearchTest, ReadingsThatFitNothingAreBelievedAgainstTheBytes) {
  record();
  for (const double t : {150.0, 350.0, 560.0}) see(t, 30);
  const SearchResult result = search();
  EXPECT_FALSE(result.confident());
}

TEST_F(FluidSearchTest, WithoutTheSignalNoneIsTheAnswer) {
  record(false);
  see(150);
  see(560);
  const SearchResult result = search();
  EXPECT_GT(result.none, 0.5);
  EXPECT_FALSE(result.confident());
}

TEST_F(FluidSearchTest, ACopyOfTheCoolantIsNamedAndNotTaken) {
  record();
  const SearchResult result = search();
  ASSERT_FALSE(result.copies.empty());
  EXPECT_EQ(result.copies.front().of, "coolant temperature");
  EXPECT_EQ(text_of(result.copies.front().field), "byte 5");
  EXPECT_NE(text_of(result.signals.front().best().field), "byte 5");
}

TEST_F(FluidSearchTest, OneSignalInTwoPlacesIsOneSignalAndTheFasterOneIsPreferred) {
  has_copy_ = true;
  record();
  see(150);
  see(560);
  const SearchResult result = search();
  const auto sources = result.signals.front().sources();
  ASSERT_EQ(sources.size(), 2U);
  EXPECT_EQ(text_of(result.signals.front().preferred().source), "frame 420");
  EXPECT_NEAR(result.signals.front().preferred().per_s, 5, 0.1);
}

TEST_F(FluidSearchTest, ProbabilitiesAddUpToOne) {
  record();
  const SearchResult result = search();
  double sum = result.none;
  for (const FoundSignal& one : result.signals) sum += one.probability;
  EXPECT_NEAR(sum, 1, 0.01) << "what is behind the eighth signal is next to nothing";
}

TEST_F(FluidSearchTest, AsksForWhatSeparatesTheLeaders) {
  record();
  const SearchResult result = search();
  const auto looks = next_looks(result, evidence_);
  ASSERT_FALSE(looks.empty());
  EXPECT_GT(looks.front().gain_bits, 0.1);
  EXPECT_THAT(looks.front().what, ::testing::HasSubstr("read the probe"));
  for (std::size_t i = 1; i < looks.size(); ++i) EXPECT_GE(looks[i - 1].gain_bits, looks[i].gain_bits);
  see(150);
  see(560);
  EXPECT_TRUE(next_looks(search(), evidence_).empty()) << "nothing is asked for when it is sure";
}

TEST_F(FluidSearchTest, WritesADecoderThatReadsTheSameTemperatures) {
  record();
  see(150);
  see(560);
  const SearchResult result = search();
  const FoundSignal& signal = result.signals.front();
  const auto written = learned_decoder("bay-3", signal.preferred(), signal, result, evidence_, log_);
  ASSERT_TRUE(written) << written.error().text();
  const auto decoder = parse_decoder(written->signals, "bay-3/signals.toml");
  ASSERT_TRUE(decoder) << decoder.error().text();
  const Signal& read = decoder->signals.front();
  EXPECT_EQ(read.origin, Origin::inferred);
  EXPECT_EQ(read.name, "fluid_temperature");
  const PayloadSeries& series = log_.series().at(signal.preferred().source);
  for (std::size_t i = 0; i < series.size(); i += 50)
    EXPECT_NEAR(*decode(read, series.payload(i)), fluid(in_seconds(series.at(i) - TimePoint{})), 0.6);
  EXPECT_EQ(decode(read, std::vector<std::uint8_t>(8, 0xFF)).error(), DecodeError::not_available);
  EXPECT_FALSE(learned_decoder("No Folder", signal.preferred(), signal, result, evidence_, log_));
}

TEST_F(FluidSearchTest, AGroupOfSeveralPacketsIsADecoderOfItsGroup) {
  record(false);
  // SAE J1939-21, broadcast announcement: ten bytes of a group, the fluid in bytes 8 and 9 as 1/32 K from -273.
  for (int t = 0; t < kSeconds; ++t) {
    const auto raw = static_cast<std::uint16_t>(std::lround((fluid(t) + 273) * 32));
    const std::vector<std::uint8_t> payload{0xFF,
                                            0xFF,
                                            3,
                                            0,
                                            0,
                                            0xFF,
                                            0xFF,
                                            0xFF,
                                            static_cast<std::uint8_t>(raw),
                                            static_cast<std::uint8_t>(raw >> 8)};
    const TimePoint at{std::chrono::seconds{t}};
    const auto part = [&](std::uint32_t id, const std::vector<std::uint8_t>& bytes) {
      log_.on_frame(data_frame(at, BusName("can0"), extended_id(id), bytes));
    };
    part(0x18ECFF03, isotp_words::announcement(isotp_words::kBam, payload.size(), 0xFF21));
    part(0x18EBFF03, isotp_words::packet(payload, 1));
    part(0x18EBFF03, isotp_words::packet(payload, 2));
  }
  see(150);
  see(560);
  const SearchResult result = search();
  const FoundSignal& signal = result.signals.front();
  EXPECT_EQ(text_of(signal.best().source), "group FF21 from 03");
  const auto written = learned_decoder("truck", signal.preferred(), signal, result, evidence_, log_);
  ASSERT_TRUE(written) << written.error().text();
  const auto decoder = parse_decoder(written->signals, "truck/signals.toml");
  ASSERT_TRUE(decoder) << decoder.error().text();
  const auto& group = std::get<SpnSource>(decoder->signals.front().source);
  EXPECT_EQ(group.pgn, 0xFF21U);
  EXPECT_EQ(group.source_address, 3);
  const PayloadSeries& series = log_.series().at(signal.preferred().source);
  EXPECT_NEAR(*decode(decoder->signals.front(), series.payload(300)), fluid(300), 0.1);
}

TEST_F(FluidSearchTest, AllOnesAreNoReadingWhereTheyWouldBeATemperature) {
  record();
  const SearchResult result = search();
  Candidate half = result.signals.front().best();
  half.field = {16, 8, ByteOrder::big, false};
  half.encoding = {0.5, -40, false, false};
  const auto written = learned_decoder("bay-3", half, result.signals.front(), result, evidence_, log_);
  ASSERT_TRUE(written) << written.error().text();
  const auto decoder = parse_decoder(written->signals, "bay-3/signals.toml");
  EXPECT_EQ(decoder->signals.front().valid_high, 87) << "FE; FF would be 87.5";
}

TEST_F(FluidSearchTest, TheSheetFitsATerminalAndIsNeverCertain) {
  record();
  see(150);
  see(560);
  for (const std::string& line : learn_sheet(search(), evidence_)) {
    EXPECT_LE(line.size(), 84U) << line;  // two of them have a degree sign of two bytes
    EXPECT_EQ(line.find("100.0 %"), std::string::npos) << line;
  }
}

TEST_F(FluidSearchTest, OfNothingNothingIsFound) {
  const SearchResult result = search();
  EXPECT_TRUE(result.signals.empty());
  EXPECT_EQ(result.none, 1);
}

/// A byte in steps of 0.37 °C from 3: no encoding that is in use.
class UnusualStepsTest : public FluidSearchTest {
 protected:
  void record_unusual(double (*temp_c)(double)) {
    for (int t = 0; t < kSeconds; ++t)
      hear(0x500, {static_cast<std::uint8_t>(std::lround((temp_c(t) - 3) / 0.37))},
           TimePoint{std::chrono::seconds{t}});
  }
  [[nodiscard]] std::optional<Candidate> fitted() const {
    for (const FoundSignal& signal : search().signals)
      for (const Candidate& one : signal.places)
        if (one.encoding.fitted) return one;
    return std::nullopt;
  }
};

TEST_F(UnusualStepsTest, AreFittedToTwoReadingsByHand) {
  record_unusual(fluid);
  see(150);
  EXPECT_FALSE(fitted()) << "one";
  see(560);
  ASSERT_TRUE(fitted());
  EXPECT_NEAR(fitted()->encoding.scale, 0.37, 0.02);
}

TEST_F(UnusualStepsTest, AreNotFittedToAReadingOfAnotherTime) {
  record_unusual(fluid);
  see(150);
  evidence_.seen.push_back({TimePoint{-600s}, 16, 1.0});
  EXPECT_FALSE(fitted());
}

TEST_F(UnusualStepsTest, AreFittedToOneReadingWhereAPersonSaysHowColdTheCarWas) {
  record_unusual(fluid);
  see(560);
  evidence_.soak_c = 18;
  ASSERT_TRUE(fitted());
  EXPECT_NEAR(fitted()->encoding.scale, 0.37, 0.02);
  evidence_.soak_c.reset();
  for (int t = 0; t < kSeconds; ++t) evidence_.coolant_c.add(TimePoint{std::chrono::seconds{t}}, 18);
  evidence_.ambient_c.add(TimePoint{}, 18);
  EXPECT_FALSE(fitted()) << "a soak that is only concluded is no reading";
}

TEST_F(UnusualStepsTest, FittedToTheCoolantAreACopyOfItAndNoParameterThatIsKnown) {
  record_unusual(coolant);
  for (int t = 0; t < kSeconds; ++t) {
    const TimePoint at{std::chrono::seconds{t}};
    evidence_.coolant_c.add(at, coolant(t));
    if (t == 150 || t == 560) evidence_.seen.push_back({at, coolant(t), 1.0});  // the wrong hose
  }
  ASSERT_TRUE(fitted());
  EXPECT_EQ(fitted()->score.copies, "coolant temperature");
  EXPECT_TRUE(search().copies.empty());
}

TEST_F(FluidSearchTest, AByteThatHasNoValueMostOfTheTimeIsNotLookedAt) {
  const auto found = [&](std::uint32_t id, int without) {
    log_ = PayloadLog{AddressBook()};
    for (int t = 0; t < kSeconds; ++t)
      hear(id, {t % 5 < without ? std::uint8_t{0xFF} : static_cast<std::uint8_t>(std::lround(fluid(t) + 40))},
           TimePoint{std::chrono::seconds{t}});
    return !search().signals.empty();
  };
  EXPECT_TRUE(found(0x300, 2));
  EXPECT_FALSE(found(0x300, 3));
}

TEST_F(FluidSearchTest, FiveValuesAreNoCourse) {
  const auto heard = [&](int values, int without) {
    log_ = PayloadLog{AddressBook()};
    for (int i = 0; i < values + without; ++i)
      hear(0x300,
           {i < without ? std::uint8_t{0xFF} : static_cast<std::uint8_t>(std::lround(fluid(60 * i) + 40))},
           TimePoint{std::chrono::seconds{60 * i}});
    SearchResult result = search();
    // With a sign all ones are -1: another field.
    std::erase_if(result.signals, [](const FoundSignal& one) { return one.best().field.is_signed; });
    return result;
  };
  EXPECT_FALSE(heard(6, 0).signals.empty());
  EXPECT_FALSE(heard(6, 1).signals.empty());
  EXPECT_TRUE(heard(5, 1).signals.empty());
  EXPECT_GT(heard(5, 1).fields, 0U);
  EXPECT_EQ(heard(5, 0).fields, 0U) << "so few payloads are not looked at at all";
}

TEST_F(FluidSearchTest, PlacesThatSpeakForAPartOfTheTimeAreOneSignalWhereTheyMeet) {
  for (int t = 0; t < kSeconds; ++t) {
    const auto raw = static_cast<std::uint8_t>(std::lround(fluid(t) + 40));
    if (t < 400) hear(0x300, {raw, 0}, TimePoint{std::chrono::seconds{t}});
    if (t >= 200) hear(0x400, {0, raw}, TimePoint{std::chrono::seconds{t}});
  }
  const SearchResult result = search();
  ASSERT_FALSE(result.signals.empty());
  EXPECT_EQ(result.signals.front().sources().size(), 2U);
}

TEST_F(FluidSearchTest, PlacesThatPartAtTheEndAreTwoSignals) {
  for (int t = 0; t < kSeconds; ++t)
    hear(0x300,
         {static_cast<std::uint8_t>(std::lround(fluid(t) + 40)),
          static_cast<std::uint8_t>(std::lround(fluid(t) - 0.1 * std::max(0, t - 555) + 40))},
         TimePoint{std::chrono::seconds{t}});
  for (const FoundSignal& signal : search().signals) {
    const auto has = [&](int byte) {
      return std::any_of(signal.places.begin(), signal.places.end(), [&](const Candidate& one) {
        return one.field == Field{byte * 8, 8, ByteOrder::big, false} &&
               text_of(one.encoding) == "raw - 40 °C";
      });
    };
    EXPECT_FALSE(has(0) && has(1));
  }
}

TEST_F(FluidSearchTest, WhatAUnitSendsBeforeItHasAValueIsNoTemperature) {
  for (int t = 0; t < kSeconds; ++t)
    hear(0x300, {t < 20 ? std::uint8_t{0xFF} : static_cast<std::uint8_t>(std::lround(fluid(t) + 40))},
         TimePoint{std::chrono::seconds{t}});
  see(150);
  see(560);
  const SearchResult result = search();
  ASSERT_FALSE(result.signals.empty());
  EXPECT_NEAR(result.signals.front().first_c, fluid(20), 1);
}

TEST_F(FluidSearchTest, ASourceThatSpokeForAMomentHasTheTemperaturesOfThatMoment) {
  for (const int t : {0, 7200}) hear(0x100, {0}, TimePoint{std::chrono::seconds{t}});
  for (int t = 0; t <= 32; ++t)
    hear(0x300, {static_cast<std::uint8_t>(60 + t / 4)}, TimePoint{std::chrono::seconds{900 + t}});
  const SearchResult result = search();
  ASSERT_FALSE(result.signals.empty());
  const FoundSignal& signal = result.signals.front();
  EXPECT_EQ(signal.first_c, signal.best().encoding.value(60));
  EXPECT_EQ(signal.last_c, signal.best().encoding.value(68));
}

TEST_F(FluidSearchTest, NoMoreThanEightSignalsAreTold) {
  for (int t = 0; t < kSeconds; ++t) {
    std::vector<std::uint8_t> bytes;
    for (int k = 0; k < 8; ++k)
      bytes.push_back(static_cast<std::uint8_t>(std::lround(warm_up(t, 18, 60 + 12 * k, 900) + 40)));
    hear(0x300, bytes, TimePoint{std::chrono::seconds{t}});
    for (std::uint8_t& byte : bytes) byte = static_cast<std::uint8_t>(byte / 2 + 5);
    hear(0x400, bytes, TimePoint{std::chrono::seconds{t}});
  }
  EXPECT_EQ(search().signals.size(), SearchResult::kMostSignals);
}

TEST(FoundSignal, IsReadFromAFasterPlaceOnlyWhereThatIsNearlyAsLikely) {
  FoundSignal signal;
  Candidate best, faster;
  best.source.from.id = standard_id(0x300);
  best.per_s = 1;
  faster.source.from.id = standard_id(0x400);
  faster.per_s = 50;
  faster.log_weight = best.log_weight - 3;
  signal.places = {best, faster};
  EXPECT_EQ(signal.preferred().source.from.id, standard_id(0x400));
  signal.places.back().log_weight = best.log_weight - 5;
  EXPECT_EQ(signal.preferred().source.from.id, standard_id(0x300));
}

/// Textbook model comparison, computed by hand: of two fields that differ in nothing but one reading by hand, the ratio of the
/// posteriors is the ratio of the likelihoods of that reading.
TEST_F(FluidSearchTest, TheRatioOfTwoModelsIsTheRatioOfTheirLikelihoods) {
  // Both bytes have the course of the fluid, byte 1 is 6 °C higher throughout.
  for (int t = 0; t < kSeconds; ++t) {
    const auto raw = static_cast<std::uint8_t>(std::lround(fluid(t) + 40));
    hear(0x300, {raw, static_cast<std::uint8_t>(raw + 6)}, TimePoint{std::chrono::seconds{t}});
  }
  const SearchResult before = search();
  see(300);
  const SearchResult after = search();
  const auto weight = [](const SearchResult& result, int byte) {
    for (const FoundSignal& one : result.signals)
      if (one.best().field == Field{byte * 8, 8, ByteOrder::big, false} &&
          text_of(one.best().encoding) == "raw - 40 °C")
        return one.best();
    return Candidate{};
  };
  const double gain = (weight(after, 0).log_weight - weight(before, 0).log_weight) -
                      (weight(after, 1).log_weight - weight(before, 1).log_weight);
  // By hand: y(300) = 34.16, so byte 0 reads 34 and byte 1 reads 40; the reading is 34.16 ± 1. Spread: sqrt(0.65² + 1/12 + (0.0456 · 8)²) = 0.799;
  // 3 % of readings lie anywhere in 190 °C; something else is anywhere in 190 °C or within 18 °C, half and half.
  const auto normal = [](double x, double spread) {
    return std::exp(-0.5 * x * x / spread / spread) / spread / std::sqrt(2 * std::numbers::pi);
  };
  const auto ratio = [&](double apart) {
    return (0.97 * normal(apart, 0.799) + 0.03 / 190) / (0.5 / 190 + 0.5 * normal(apart, 18));
  };
  EXPECT_NEAR(gain, std::log(ratio(0.16) / ratio(5.84)), 0.05);
}

}  // namespace
}  // namespace sumplog
