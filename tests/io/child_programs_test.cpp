#include "io/child_programs.h"

#include <gtest/gtest.h>

#include <boost/asio/io_context.hpp>
#include <boost/asio/steady_timer.hpp>
#include <optional>

#include "io/temporary_folder.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;

class ChildProgramsTest : public ::testing::Test {
 protected:
  /// Until the condition holds, a minute at most.
  template <class F>
  bool wait_until(F holds) {
    const auto limit = std::chrono::steady_clock::now() + 60s;
    while (!holds() && std::chrono::steady_clock::now() < limit) {
      loop_.restart();
      loop_.run_for(20ms);
    }
    return holds();
  }
  Result<void> start(const std::vector<std::string>& words) {
    return programs_.start(words, [this](bool worked) { worked_ = worked; });
  }

  test::TemporaryFolder folder_;
  boost::asio::io_context loop_;
  ChildPrograms programs_{loop_, {500ms, 2}};
  std::optional<bool> worked_;
};

TEST_F(ChildProgramsTest, GetTheirWordsAsTheyAre) {
  const std::string file = folder_ / "out";
  ASSERT_TRUE(
      start({"sh", "-c", R"(printf '%s|' "$@" > ")" + file + "\"", "sh", "window starts", "$(reboot)"}));
  ASSERT_TRUE(wait_until([&] { return worked_.has_value(); }));
  EXPECT_TRUE(*worked_);
  EXPECT_EQ(test::bytes_of(file), "window starts|$(reboot)|");
}

TEST_F(ChildProgramsTest, AFailureIsSaid) {
  ASSERT_TRUE(start({"false"}));
  ASSERT_TRUE(wait_until([&] { return worked_.has_value(); }));
  EXPECT_FALSE(*worked_);
}

TEST_F(ChildProgramsTest, OneThatTakesTooLongIsEndedWithItsOwnChildren) {
  const std::string file = folder_ / "pid";
  ASSERT_TRUE(start({"sh", "-c", "sleep 1000 & echo $! > " + file + "; wait"}));
  ASSERT_TRUE(wait_until([&] { return worked_.has_value(); }));
  EXPECT_FALSE(*worked_);
  EXPECT_EQ(programs_.running(), 0U);
  const int grandchild = std::stoi(test::bytes_of(file));
  EXPECT_TRUE(wait_until([&] {
    return test::bytes_of("/proc/" + std::to_string(grandchild) + "/cmdline").find("sleep") ==
           std::string::npos;
  }));
}

TEST_F(ChildProgramsTest, TooManyAtOnceAreRefusedWithoutWaiting) {
  ASSERT_TRUE(start({"sleep", "1000"}));
  ASSERT_TRUE(start({"sleep", "1000"}));
  const auto third = start({"sleep", "1000"});
  ASSERT_FALSE(third);
  EXPECT_EQ(third.error().what, "too many programs run already");
}

TEST_F(ChildProgramsTest, AProgramThatIsNoneIsAnError) {
  EXPECT_FALSE(start({folder_ / "nothing"}));
  EXPECT_TRUE(program_path(folder_ / "nothing").empty());
  EXPECT_TRUE(program_path("no-program-has-this-name").empty());
  EXPECT_NE(program_path("sh").find("/sh"), std::string::npos);
}

}  // namespace
}  // namespace sumplog
