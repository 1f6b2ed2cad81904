#include "core/asker/bit_rate_search.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <set>

#include "core/item/error_frame.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;

constexpr TimePoint kStart = at_micros(1'700'000'000'000'000);
const BusName kBus{"can0"};

/// A bus with one true rate, and an adapter on it. At another rate every frame is an error for both sides.
struct Bus {
  std::uint32_t rate = 500'000;
  Duration talks_every{};  ///< zero: nobody talks by himself
  bool nodes = true;       ///< somebody acknowledges
  bool answers_11 = false;
  bool answers_29 = false;
  bool echo_acknowledges = true;
  bool error_frames = true;  ///< the adapter sends them
};

struct Asked {
  std::uint32_t rate = 0;
  CanId id{};
  TimePoint at{};
};

struct Course {
  std::optional<std::uint32_t> found;
  TimePoint at{};
  std::vector<Asked> asked;
  std::string text;
};

CanFrame frame(TimePoint at, CanId id) {
  constexpr std::array<std::uint8_t, 3> kBytes{0x02, 0x01, 0x00};
  return data_frame(at, kBus, id, kBytes);
}
CanFrame error_frame(TimePoint at, std::uint32_t classes, std::uint8_t controller = 0) {
  CanFrame error;
  error.at = at;
  error.bus = kBus;
  error.kind = FrameKind::error;
  error.id = extended_id(classes);
  error.length = 8;
  error.bytes[1] = controller;
  return error;
}

Course search_on(const Bus& bus, Duration patience = 30s,
                 std::vector<std::uint32_t> rates = {500'000, 250'000}) {
  BitRateSearch search(std::move(rates), bus.echo_acknowledges, kStart);
  Course course;
  std::optional<LinkOrder> stands;
  TimePoint next_talk = kStart;
  for (TimePoint now = kStart; now < kStart + patience; now += 1ms) {
    if (search.order() != stands) {
      stands = search.order();
      if (search.found()) break;
      search.on_order_done(now);
    }
    const bool right = stands->bit_rate == bus.rate;
    if (bus.talks_every > 0ms && now >= next_talk) {
      next_talk = now + bus.talks_every;
      if (right)
        search.on_frame(frame(now, standard_id(0x321)));
      else if (bus.error_frames)
        search.on_frame(error_frame(now, 0x88));
      else
        search.on_errors_counted();
    }
    while (const auto id = search.next_request(now)) {
      course.asked.push_back({stands->bit_rate, *id, now});
      EXPECT_FALSE(stands->listen_only);
      if (!right || !bus.nodes) {
        if (!bus.echo_acknowledges) search.on_frame(frame(now, *id));  // comes back whatever happens
        if (bus.error_frames) search.on_frame(error_frame(now, 0x24, 0x20));
        continue;
      }
      search.on_frame(frame(now, *id));
      if (!id->extended && bus.answers_11) search.on_frame(frame(now, standard_id(0x7E8)));
      if (id->extended && bus.answers_29) search.on_frame(frame(now, extended_id(0x18DAF110)));
    }
    search.on_time(now);
    if (search.found() && !course.found) {
      course.found = search.found();
      course.at = now;
    }
  }
  course.text = search.state_text();
  return course;
}

TEST(BitRateSearch, HearsTheRateOfABusThatTalksAndAsksNothing) {
  for (const std::uint32_t rate : {500'000U, 250'000U}) {
    const Course course = search_on({.rate = rate, .talks_every = 20ms});
    EXPECT_EQ(course.found, rate);
    EXPECT_TRUE(course.asked.empty());
    EXPECT_LT(course.at - kStart, 2s);
  }
}

TEST(BitRateSearch, AsksAQuietBusWith11BitsFirst) {
  const Course course = search_on({.rate = 500'000, .answers_11 = true});
  EXPECT_EQ(course.found, 500'000U);
  ASSERT_EQ(course.asked.size(), 1U);
  EXPECT_EQ(course.asked[0].id, standard_id(0x7DF));
  EXPECT_LT(course.at - kStart, 3s);
}

TEST(BitRateSearch, ThenWith29) {
  const Course course = search_on({.rate = 500'000, .answers_29 = true});
  EXPECT_EQ(course.found, 500'000U);
  ASSERT_EQ(course.asked.size(), 2U);
  EXPECT_EQ(course.asked[1].id, extended_id(0x18DB33F1));
}

TEST(BitRateSearch, StopsAtOnceWhereNobodyAcknowledgesAndTriesTheNextRate) {
  const Course course = search_on({.rate = 250'000, .answers_11 = true});
  EXPECT_EQ(course.found, 250'000U);
  const auto at_wrong_rate = std::count_if(course.asked.begin(), course.asked.end(),
                                           [](const Asked& one) { return one.rate == 500'000; });
  EXPECT_EQ(at_wrong_rate, 1) << "one frame shows that the rate is wrong";
}

TEST(BitRateSearch, AnAcknowledgedRequestIsEnoughWhereTheEchoProvesIt) {
  EXPECT_EQ(search_on({.rate = 500'000}).found, 500'000U);
  EXPECT_EQ(search_on({.rate = 500'000, .echo_acknowledges = false}).found, std::nullopt);
}

TEST(BitRateSearch, NeverSendsOnABusThatTalksAtAnotherRate) {
  for (const bool error_frames : {true, false}) {
    const Course course =
        search_on({.rate = 125'000, .talks_every = 100ms, .error_frames = error_frames}, 120s);
    EXPECT_EQ(course.found, std::nullopt);
    EXPECT_TRUE(course.asked.empty());
    EXPECT_EQ(course.text,
              "somebody talks on this bus, but not at 500 or 250 kbit/s: name the rate with --bitrate");
  }
}

TEST(BitRateSearch, AsksSeldomWhereNobodyIsAndSaysWhatToDo) {
  const Course course = search_on({.nodes = false}, 60s);
  EXPECT_EQ(course.found, std::nullopt);
  EXPECT_GE(course.asked.size(), 4U);
  EXPECT_LE(course.asked.size(), 2U * 6U) << "one frame at each rate, every ten seconds at most";
  EXPECT_EQ(course.text, "nobody answers at 500 or 250 kbit/s: is the plug in and the ignition on?");
}

TEST(BitRateSearch, FindsABusThatWakesLater) {
  BitRateSearch search({500'000, 250'000}, true, kStart);
  TimePoint now = kStart;
  std::optional<LinkOrder> stands;
  for (; now < kStart + 25s; now += 10ms) {
    if (search.order() != stands) search.on_order_done(now);
    stands = search.order();
    while (search.next_request(now)) search.on_frame(error_frame(now, 0x20));
    search.on_time(now);
  }
  ASSERT_FALSE(search.found());
  for (; now < kStart + 30s && !search.found(); now += 10ms) {
    if (search.order() != stands) search.on_order_done(now);
    stands = search.order();
    if (stands->bit_rate == 250'000) search.on_frame(frame(now, standard_id(0x100)));
    search.on_time(now);
  }
  EXPECT_EQ(search.found(), 250'000U);
}

TEST(BitRateSearch, OneGoodFrameAmongErrorsProvesNothingThreeDo) {
  BitRateSearch search({500'000}, true, kStart);
  search.on_order_done(kStart);
  search.on_frame(error_frame(kStart, 0x08));
  search.on_frame(frame(kStart, standard_id(0x100)));
  search.on_frame(frame(kStart, standard_id(0x100)));
  EXPECT_FALSE(search.found());
  search.on_frame(frame(kStart, standard_id(0x100)));
  EXPECT_EQ(search.found(), 500'000U);
}

TEST(BitRateSearch, WhatCameBeforeTheLinkStoodAsOrderedDoesNotCount) {
  BitRateSearch search({500'000, 250'000}, true, kStart);
  search.on_frame(frame(kStart, standard_id(0x100)));
  EXPECT_FALSE(search.found());
}

TEST(BitRateSearch, SaysWhatItDoesMeanwhile) {
  BitRateSearch search({500'000, 250'000, 33'333}, true, kStart);
  EXPECT_EQ(search.state_text(), "listening at 500 kbit/s");
  TimePoint now = kStart;
  std::set<std::string> said;
  for (; now < kStart + 10s; now += 10ms) {
    search.on_order_done(now);
    for (const TimePoint end = now + 1s; now < end && search.order().listen_only; now += 10ms)
      search.on_time(now);
    search.on_time(now);
    while (search.next_request(now)) search.on_frame(error_frame(now, 0x20));
    search.on_time(now);
    said.insert(search.state_text());
  }
  EXPECT_TRUE(said.contains("listening at 33.333 kbit/s"));
  EXPECT_TRUE(said.contains("asking at 250 kbit/s"));
  EXPECT_TRUE(
      said.contains("nobody answers at 500, 250 or 33.333 kbit/s: is the plug in and the ignition on?"));
  EXPECT_EQ(search_on({.talks_every = 20ms}).text, "the bus has 500 kbit/s");
}

TEST(BitRateSearch, AnErrorFrameThatTellsOfNoTroubleHoldsNothingUp) {
  BitRateSearch search({500'000}, true, kStart);
  search.on_order_done(kStart);
  search.on_frame(error_frame(kStart, 0x02));  // CAN_ERR_LOSTARB: another frame went first
  search.on_frame(frame(kStart, standard_id(0x100)));
  EXPECT_EQ(search.found(), 500'000U);
}

TEST(BitRateSearch, WhatIsFoundStays) {
  BitRateSearch search({500'000, 250'000}, true, kStart);
  search.on_order_done(kStart);
  search.on_time(kStart + 1s);
  search.on_order_done(kStart + 1s);
  search.on_time(kStart + 2s);
  search.on_order_done(kStart + 2s);  // 500 kbit/s again, to ask there
  search.on_frame(frame(kStart + 2s, standard_id(0x100)));
  ASSERT_EQ(search.found(), 500'000U);
  EXPECT_FALSE(search.next_request(kStart + 2s)) << "nothing needs to be asked any more";
  search.on_order_done(kStart + 2s);
  search.on_errors_counted();
  search.on_frame(error_frame(kStart, 0x08));
  search.on_time(kStart + 20s);
  EXPECT_EQ(search.found(), 500'000U);
  EXPECT_EQ(search.order(), (LinkOrder{500'000, false}));
  EXPECT_FALSE(search.next_request(kStart + 20s));
}

TEST(BitRateSearch, ErrorsThatAreCountedBeforeTheLinkStandsAsOrderedAreOfTheOldRate) {
  BitRateSearch search({500'000}, true, kStart);
  search.on_errors_counted();
  search.on_order_done(kStart);
  search.on_time(kStart + 1s);
  EXPECT_FALSE(search.order().listen_only) << "nobody was heard at this one: it may be asked";
}

TEST(BitRateSearch, WhereErrorsAreCountedBeforeTheFirstRequestNoneIsSent) {
  BitRateSearch search({500'000}, true, kStart);
  search.on_order_done(kStart);
  search.on_time(kStart + 1s);
  search.on_order_done(kStart + 1s);
  ASSERT_FALSE(search.order().listen_only);
  search.on_errors_counted();
  EXPECT_FALSE(search.next_request(kStart + 1s));
}

TEST(BitRateSearch, AFrameOfAnotherWhileAskingIsAnAnswer) {
  // The second request is asked on 18DB33F1: what comes on 7DF then is not ours.
  BitRateSearch search({500'000}, true, kStart);
  search.on_order_done(kStart);
  search.on_time(kStart + 1s);
  search.on_order_done(kStart + 1s);
  ASSERT_TRUE(search.next_request(kStart + 1s));
  search.on_frame(frame(kStart + 1s, standard_id(0x7DF)));
  EXPECT_FALSE(search.found()) << "our own, come back";
  search.on_time(kStart + 2s);
  ASSERT_TRUE(search.next_request(kStart + 2s));
  search.on_frame(frame(kStart + 2s, standard_id(0x7DF)));
  EXPECT_EQ(search.found(), 500'000U);
}

TEST(TellsTrouble, ErrorFramesOfAFrameGoneWrongOrAControllerThatCounts) {
  EXPECT_TRUE(tells_trouble(error_frame(kStart, 0x08)));         // CAN_ERR_PROT
  EXPECT_TRUE(tells_trouble(error_frame(kStart, 0x20)));         // CAN_ERR_ACK
  EXPECT_TRUE(tells_trouble(error_frame(kStart, 0x40)));         // CAN_ERR_BUSOFF
  EXPECT_TRUE(tells_trouble(error_frame(kStart, 0x04, 0x20)));   // CAN_ERR_CRTL_TX_PASSIVE
  EXPECT_FALSE(tells_trouble(error_frame(kStart, 0x04, 0x40)));  // CAN_ERR_CRTL_ACTIVE
  EXPECT_FALSE(tells_trouble(error_frame(kStart, 0x02)));        // CAN_ERR_LOSTARB
  EXPECT_FALSE(tells_trouble(frame(kStart, standard_id(0x08))));
}

}  // namespace
}  // namespace sumplog
