#include "app/service_watch.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <algorithm>
#include <boost/asio/post.hpp>
#include <chrono>
#include <memory>
#include <thread>

#include "io/service_manager.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;

constexpr auto kPatience = 60ms;

class AWatch : public testing::Test {
 protected:
  AWatch() : manager_("@sumplog-watch-test-" + std::to_string(::getpid())) {
    setenv("WATCHDOG_USEC", std::to_string(std::chrono::microseconds(kPatience).count()).c_str(), 1);
  }
  long alive() {
    const auto heard = manager_.heard();
    return std::count(heard.begin(), heard.end(), "WATCHDOG=1");
  }

  ServiceManager manager_;
  boost::asio::io_context loop_{1};
};

TEST_F(AWatch, SaysReadyAndThenThatTheLoopTurns) {
  const ServiceWatch watch(loop_, "waiting");
  EXPECT_THAT(manager_.heard(), testing::ElementsAre("STATUS=waiting", "READY=1", "WATCHDOG=1"));
  loop_.run_for(5 * kPatience);
  EXPECT_GE(alive(), 5);  // at least once in each patience
}

TEST_F(AWatch, GoesSilentWhileTheLoopIsBlocked) {
  const ServiceWatch watch(loop_, "");
  loop_.run_for(kPatience);
  (void)manager_.heard();
  long meanwhile = -1;
  boost::asio::post(loop_, [&] {
    std::this_thread::sleep_for(5 * kPatience);
    meanwhile = alive();
  });
  loop_.run_for(6 * kPatience);
  EXPECT_EQ(meanwhile, 0);
  EXPECT_GE(alive(), 1);  // and speaks again afterwards
}

TEST_F(AWatch, WithoutPatienceOfTheManagerSaysNothingMore) {
  unsetenv("WATCHDOG_USEC");
  const ServiceWatch watch(loop_, "");
  EXPECT_EQ(alive(), 0);
  loop_.run_for(2 * kPatience);
  EXPECT_EQ(alive(), 0);
}

TEST_F(AWatch, EndsWithTheNoticeThatWasDueAlready) {
  auto watch = std::make_unique<ServiceWatch>(loop_, "");
  boost::asio::post(loop_, [&] {
    std::this_thread::sleep_for(kPatience);  // its timer is over; its turn comes after what is posted here
    boost::asio::post(loop_, [&] {
      watch.reset();
      (void)manager_.heard();
    });
  });
  loop_.run_for(3 * kPatience);
  EXPECT_EQ(alive(), 0);
  EXPECT_TRUE(loop_.stopped());  // nothing is left that would come back
}

}  // namespace
}  // namespace sumplog
