#include <gtest/gtest.h>

#include "core/decoder/decoder.h"
#include "core/decoder/mistakes.h"
#include "core/decoder/signal_name.h"

namespace sumplog {
namespace {

const std::string kSound = testing::test_file("sound_signals.toml");

Decoder parsed(const std::string& text) {
  auto decoder = parse_decoder(text, "my-9/signals.toml");
  EXPECT_TRUE(decoder) << decoder.error().text();
  return decoder ? *decoder : Decoder{};
}

TEST(DecoderFile, TextBehindTheMistakesIsItselfInOrder) {
  const Decoder decoder = parsed(kSound);
  EXPECT_EQ(decoder.id, "my-9");
  EXPECT_EQ(decoder.title, "My family");
  ASSERT_EQ(decoder.units.size(), 1U);
  EXPECT_EQ(decoder.units[0].id, "transmission");
  EXPECT_EQ(decoder.units[0].address.request, standard_id(0x7E1));
  EXPECT_EQ(decoder.units[0].address.response, standard_id(0x7E9));
  ASSERT_EQ(decoder.signals.size(), 2U);
}

TEST(DecoderFile, GivesEveryKeyOfASignal) {
  const Signal signal = parsed(kSound).signals[0];
  EXPECT_EQ(signal.name, "fluid_temperature");
  EXPECT_EQ(signal.unit, "degC");
  EXPECT_EQ(std::get<DidSource>(signal.source).did, 0x1A05);
  EXPECT_EQ(std::get<DidSource>(signal.source).service, 0x22);
  EXPECT_EQ(signal.unit_id, "transmission");
  EXPECT_EQ(signal.length, 1);
  EXPECT_EQ(signal.start_bit, 0);
  EXPECT_EQ(signal.bit_length, 8);
  EXPECT_EQ(signal.scale, 1);
  EXPECT_EQ(signal.offset, -40);
  EXPECT_EQ(signal.rounding, Rounding::round);
  EXPECT_EQ(signal.valid_low, -40);
  EXPECT_EQ(signal.valid_high, 213);
  ASSERT_EQ(signal.no_value.size(), 1U);
  EXPECT_EQ(signal.no_value[0].low, 0xFEU);
  EXPECT_EQ(signal.no_value[0].high, 0xFFU);
  EXPECT_EQ(signal.no_value[0].meaning, "no value");
  EXPECT_EQ(signal.poll_period, Duration{500'000});
  EXPECT_EQ(signal.origin, Origin::service_manual);
  EXPECT_EQ(signal.origin_note, "invented handbook, page 7");
  EXPECT_EQ(signal.checks.size(), 4U);
}

TEST(DecoderFile, RemembersTheLineOfEverythingAnErrorMayNeed) {
  const Decoder decoder = parsed(kSound);
  EXPECT_EQ(decoder.units[0].line, 5);
  EXPECT_EQ(decoder.signals[0].line, 10);
  EXPECT_EQ(decoder.signals[0].checks[0].line, 25);
  EXPECT_EQ(decoder.signals[0].checks[3].line, 28);
}

TEST(DecoderFile, ReadsABroadcastWithItsBits) {
  const Signal signal = parsed(kSound).signals[1];
  EXPECT_EQ(std::get<BroadcastSource>(signal.source).id, standard_id(0x3B2));
  EXPECT_EQ(signal.start_bit, 12);
  EXPECT_EQ(signal.bit_length, 12);
  EXPECT_EQ(signal.byte_order, ByteOrder::little);
  EXPECT_TRUE(signal.is_signed);
  EXPECT_EQ(signal.decimals, 1);
  EXPECT_EQ(signal.poll_period, Duration::zero());
  EXPECT_EQ(signal.labels, (std::vector<std::pair<std::int64_t, std::string>>{{-1, "below"}, {16, "above"}}));
}

TEST(DecoderFile, ReadsTheMultiplexorOfASignal) {
  const auto multiplexor = [](const std::string& table) {
    const std::string with =
        testing::changed(kSound, "signed = true", "signed = true\nmultiplexor = " + table);
    const std::string other = "  { bytes = \"01 00 83 00\", no_reading = true },\n";
    const std::string last = "  { bytes = \"00 00 7D 00\", value = 1000 },\n";
    return parsed(testing::changed(with, last, last + other)).signals[1].multiplexor;
  };
  EXPECT_FALSE(parsed(kSound).signals[1].multiplexor);
  const auto usual = multiplexor("{ start_bit = 0, bit_length = 4, raw = 0 }");
  ASSERT_TRUE(usual);
  EXPECT_EQ(usual->start_bit, 0);
  EXPECT_EQ(usual->bit_length, 4);
  EXPECT_EQ(usual->byte_order, ByteOrder::little) << "that of the signal";
  EXPECT_EQ(usual->raw, 0U);
  const auto big = multiplexor("{ start_bit = 4, bit_length = 4, byte_order = \"big\", raw = 0 }");
  ASSERT_TRUE(big);
  EXPECT_EQ(big->byte_order, ByteOrder::big);
}

TEST(DecoderFile, AFrameAbove7FFHas29BitsAndASmallOneWhenItSaysSo) {
  const auto frame = [](const std::string& with) {
    return std::get<BroadcastSource>(
               parsed(testing::changed(kSound, "frame = 0x3B2", with)).signals[1].source)
        .id;
  };
  EXPECT_EQ(frame("frame = 0x0CF00400"), extended_id(0x0CF00400));
  EXPECT_EQ(frame("frame = 0x3B2\nextended = true"), extended_id(0x3B2));
}

TEST(DecoderFile, ReadsEveryKindOfAddress) {
  const auto address = [](const std::string& lines) {
    const std::string text = testing::changed(kSound, "request = 0x7E1\nresponse = 0x7E9", lines);
    return parsed(text).units[0].address;
  };
  EXPECT_EQ(address("request = 0x18DA18F1\nresponse = 0x18DAF118"),
            (UnitAddress{extended_id(0x18DA18F1), extended_id(0x18DAF118), AddressingMode::normal, {}, {}}));
  EXPECT_EQ(
      address("request = 0x18CE18F1\nresponse = 0x18CEF118\naddressing = \"mixed\"\n"
              "request_address = 0x12\nresponse_address = 0x12"),
      (UnitAddress{extended_id(0x18CE18F1), extended_id(0x18CEF118), AddressingMode::mixed, 0x12, 0x12}));
  EXPECT_EQ(address("request = 0x6F1\nresponse = 0x618\naddressing = \"extended\"\n"
                    "request_address = 0x18\nresponse_address = 0xF1"),
            (UnitAddress{standard_id(0x6F1), standard_id(0x618), AddressingMode::extended, 0x18, 0xF1}));
  EXPECT_EQ(address("request = 0x7A1\nresponse = 0x7A9").mode, AddressingMode::normal);
}

TEST(DecoderFile, UnitsOfExtendedAddressingMayShareTheRequestIdentifier) {
  const Decoder decoder =
      parsed(testing::changed(kSound, "request = 0x7E1\nresponse = 0x7E9", R"(request = 0x6F1
response = 0x618
addressing = "extended"
request_address = 0x18
response_address = 0xF1
[[ecu]]
id = "engine"
request = 0x6F1
response = 0x612
addressing = "extended"
request_address = 0x12
response_address = 0xF1)"));
  EXPECT_EQ(decoder.units.size(), 2U);
}

TEST(DecoderFile, UnitsWhoseAnswersCouldBeMixedAreRefused) {
  const auto refused = [](const std::string& first, const std::string& second) {
    const std::string units = first + "[[ecu]]\nid = \"other\"\n" + second;
    const auto decoder = parse_decoder(testing::changed(kSound, "request = 0x7E1\nresponse = 0x7E9\n", units),
                                       "my-9/signals.toml");
    if (!decoder) {
      EXPECT_NE(decoder.error().what.find("has the same identifiers as 'transmission'"), std::string::npos)
          << decoder.error().text();
    }
    return !decoder;
  };
  const auto normal = [](const char* request, const char* response) {
    return std::string("request = ") + request + "\nresponse = " + response + "\n";
  };
  const auto behind = [&](const char* request, const char* response, const char* byte) {
    return normal(request, response) + "addressing = \"extended\"\nrequest_address = " + byte +
           "\nresponse_address = 0xF1\n";
  };
  EXPECT_FALSE(refused(normal("0x700", "0x708"), normal("0x701", "0x709")));
  EXPECT_TRUE(refused(normal("0x700", "0x708"), normal("0x700", "0x708")));
  EXPECT_TRUE(refused(normal("0x700", "0x708"), normal("0x700", "0x709")));
  EXPECT_TRUE(refused(normal("0x700", "0x708"), normal("0x701", "0x708")));
  EXPECT_TRUE(refused(normal("0x6F1", "0x708"), behind("0x6F1", "0x612", "0x12")));
  EXPECT_TRUE(refused(behind("0x6F1", "0x612", "0x12"), behind("0x6F1", "0x618", "0x12")));
  EXPECT_FALSE(refused(behind("0x6F1", "0x612", "0x12"), behind("0x6F1", "0x618", "0x18")));
  EXPECT_FALSE(refused(behind("0x6F1", "0x612", "0x12"), behind("0x6F2", "0x618", "0x12")));
  EXPECT_FALSE(refused(normal("0x700", "0x708"), behind("0x6F1", "0x612", "0x12")));
  EXPECT_FALSE(refused(behind("0x6F1", "0x612", "0x12"), normal("0x700", "0x708")));
  const std::string told_by_its_byte = normal("0x6F1", "0x612") +
                                       "addressing = \"extended\"\nrequest_address = 0x18\n"
                                       "response_address = 0xF2\n";
  EXPECT_FALSE(refused(behind("0x6F1", "0x612", "0x12"), told_by_its_byte));
}

TEST(DecoderFile, HasAtMostFourRanges) {
  const auto with = [](int ranges) {
    std::string text = "request = 0x7E1\nresponse = 0x7E9\n";
    for (int i = 0; i < ranges; ++i)
      text += "[[range]]\nfirst = 0x6" + std::to_string(i) + "0\nlast = 0x6" + std::to_string(i) +
              "1\nanswer_offset = 8\n";
    return parse_decoder(testing::changed(kSound, "request = 0x7E1\nresponse = 0x7E9\n", text),
                         "my-9/signals.toml");
  };
  EXPECT_TRUE(with(4));
  ASSERT_FALSE(with(5));
  EXPECT_EQ(with(5).error().what, "a decoder has at most 4 [[range]]");
}

TEST(DecoderFile, TwoSignalsOfOneFrameHaveOneLength) {
  const auto with = [](const std::string& source, const std::string& length, const std::string& bytes) {
    const std::string second =
        "[[signal]]\nname = \"x_second\"\nunit = \"kPa\"\n" + source + "\nlength = " + length +
        "\nbyte_order = \"big\"\nscale = 1\noffset = 0\nvalid = [0, 1]\norigin = \"invented\"\n"
        "checks = [ { bytes = \"" +
        bytes + "00\", value = 0 }, { bytes = \"" + bytes + "01\", value = 1 } ]\n";
    return parse_decoder(kSound + second, "my-9/signals.toml");
  };
  const auto same = with("frame = 0x3B2", "4", "000000");
  EXPECT_TRUE(same) << same.error().text();
  const auto shorter = with("frame = 0x3B2", "3", "0000");
  ASSERT_FALSE(shorter);
  EXPECT_NE(shorter.error().what.find("but 'x_line_pressure' in line 31 has 4 for the same source"),
            std::string::npos);
  for (const char* const other :
       {"frame = 0x3B3", "pid = 0x0C\necu = \"transmission\"",
        "did = 0x1A05\nservice = 0x22\necu = \"transmission\"", "spn = 177\npgn = 65272"}) {
    const auto apart = with(other, std::string(other).starts_with("did") ? "1" : "3",
                            std::string(other).starts_with("did") ? "" : "0000");
    EXPECT_TRUE(apart) << apart.error().text();
  }
}

TEST(DecoderFile, ARangeNamesEveryPairInIt) {
  const Decoder decoder = parsed(testing::changed(kSound, "response = 0x7E9\n", R"(response = 0x7E9
[[range]]
first = 0x710
last = 0x711
answer_offset = -16
)"));
  ASSERT_EQ(decoder.ranges.size(), 1U);
  const auto pair = [](std::uint32_t request, std::uint32_t response) {
    return UnitAddress{standard_id(request), standard_id(response), AddressingMode::normal, {}, {}};
  };
  EXPECT_EQ(addresses_of(decoder.ranges[0]), (std::vector{pair(0x710, 0x700), pair(0x711, 0x701)}));
}

TEST(DecoderFile, LocalIdentifiersOfService21HaveOneByte) {
  const Decoder decoder = parsed(testing::changed(kSound, "did = 0x1A05", "did = 0x1A\nservice = 0x21"));
  EXPECT_EQ(std::get<DidSource>(decoder.signals[0].source).service, 0x21);
}

TEST(DecoderFile, AParameterGroupMayBeTiedToItsSourceAddress) {
  const Decoder decoder =
      parsed(testing::changed(kSound, "frame = 0x3B2", "spn = 177\npgn = 65272\nsource_address = 3"));
  const auto& source = std::get<SpnSource>(decoder.signals[1].source);
  EXPECT_EQ(source.spn, 177U);
  EXPECT_EQ(source.pgn, 65272U);
  EXPECT_EQ(source.source_address, 3);
}

/// One byte, 1 °F per step, from -40 °F.
constexpr const char* kFahrenheit = R"(format = 1
id = "f"
title = "In °F"
[[ecu]]
id = "transmission"
request = 0x7E1
response = 0x7E9
[[signal]]
name = "fluid_temperature"
unit = "degF"
did = 0x1A05
ecu = "transmission"
length = 1
scale = 1
offset = -40
valid = [-40, 212]
origin = "invented"
checks = [ { bytes = "00", value = -40 }, { bytes = "0A", value = -30 }, { bytes = "FC", value = 212 } ]
)";

TEST(DecoderFile, ASignalInFahrenheitIsReadInCelsius) {
  const Signal signal = parsed(kFahrenheit).signals[0];
  EXPECT_EQ(signal.unit, "degC");
  // Fixed points of the two scales: -40 °F = -40 °C, 32 °F = 0 °C, 212 °F = 100 °C; a window of 35…45 °C is
  // 95…113 °F.
  const auto celsius = [&](int fahrenheit_read) {
    return decode(signal, std::vector<std::uint8_t>{static_cast<std::uint8_t>(fahrenheit_read + 40)}).value();
  };
  EXPECT_NEAR(celsius(-40), -40, 1e-9);
  EXPECT_NEAR(celsius(32), 0, 1e-9);
  EXPECT_NEAR(celsius(95), 35, 1e-9);
  EXPECT_NEAR(celsius(113), 45, 1e-9);
  EXPECT_NEAR(celsius(212), 100, 1e-9);
  EXPECT_EQ(decode(signal, std::vector<std::uint8_t>{0xFD}).error(), DecodeError::out_of_range);
  EXPECT_NEAR(*signal.checks[2].value, 100, 1e-9);
}

TEST(DecoderFile, ReadsWindowsLineEndsAndAByteOrderMark) {
  std::string text = "\xEF\xBB\xBF";
  for (const char c : kSound) text += c == '\n' ? std::string{"\r\n"} : std::string{c};
  EXPECT_EQ(parsed(text).signals.size(), 2U);
}

TEST(DecoderFile, NeverStopsOnAnyPrefixOfASoundText) {
  // Cut anywhere, the file is in order or gives one error with its line; no cut makes it crash or hang.
  const std::string text = kSound;
  for (std::size_t length = 0; length < text.size(); ++length) {
    const auto decoder = parse_decoder(text.substr(0, length), "cut");
    if (decoder) continue;
    EXPECT_EQ(decoder.error().place.rfind("cut:", 0), 0U) << length << " " << decoder.error().text();
  }
}

TEST(DecoderFile, NeverCrashesOnASoundTextWithOneByteChanged) {
  const std::string text = kSound;
  for (std::size_t at = 0; at < text.size(); ++at) {
    for (const char c : {'\0', '"', '[', '=', '9', '\xFF'}) {
      std::string changed = text;
      changed[at] = c;
      const auto decoder = parse_decoder(changed, "changed");
      if (decoder) continue;
      EXPECT_EQ(decoder.error().text().find('\n'), std::string::npos) << at;
    }
  }
}

TEST(DecoderFile, AnIdentifierOfAnotherUnitOrServiceMayHaveAnotherLength) {
  const std::string two_units =
      testing::changed(kSound, "response = 0x7E9\n",
                       "response = 0x7E9\n[[ecu]]\nid = \"engine\"\nrequest = 0x7E0\nresponse = 0x7E8\n");
  const auto with = [](const std::string& text, const std::string& source) {
    const auto decoder =
        parse_decoder(text + "[[signal]]\nname = \"x_second\"\nunit = \"kPa\"\n" + source +
                          "\nlength = 2\nbyte_order = \"big\"\nscale = 1\noffset = 0\nvalid = [0, 1]\norigin "
                          "= \"invented\"\n"
                          "checks = [ { bytes = \"0000\", value = 0 }, { bytes = \"0001\", value = 1 } ]\n",
                      "my-9/signals.toml");
    return decoder ? std::string() : decoder.error().text();
  };
  EXPECT_EQ(with(two_units, "did = 0x1A05\necu = \"engine\""), "");
  EXPECT_NE(with(two_units, "did = 0x1A05\necu = \"transmission\""), "");
  const std::string local = testing::changed(two_units, "did = 0x1A05", "did = 0x1A\nservice = 0x21");
  EXPECT_EQ(with(local, "did = 0x1A\nservice = 0x22\necu = \"transmission\""), "");
  EXPECT_NE(with(local, "did = 0x1A\nservice = 0x21\necu = \"transmission\""), "");
}

TEST(DecoderFile, ARangeThatEndsAtZeroNeedsNoCheckBelowIt) {
  std::string text = testing::changed(kSound, "valid = [-40, 213]", "valid = [-40, 0]");
  text = testing::changed(text, "  { bytes = \"1E\", value = -10 },\n", "");
  text = testing::changed(text, "{ bytes = \"FD\", value = 213 }", "{ bytes = \"28\", value = 0 }");
  EXPECT_EQ(parsed(text).signals.size(), 2U) << "both ends show the sign";
}

TEST(SnakeCase, NothingIsNoName) {
  EXPECT_FALSE(is_snake_case(""));
  EXPECT_TRUE(is_snake_case("x"));
}

}  // namespace
}  // namespace sumplog
