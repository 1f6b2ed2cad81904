#include "io/service_notice.h"

#include <gmock/gmock.h>
#include <unistd.h>

#include <chrono>
#include <memory>

#include "io/service_manager.h"
#include "io/temporary_folder.h"

namespace sumplog {
namespace {

using testing::ElementsAre;
using testing::IsEmpty;
using namespace std::chrono_literals;

std::string abstract_name() {
  return "@sumplog-test-" + std::to_string(::getpid());
}

TEST(ServiceNotice, IsOneDatagramEach) {
  const test::TemporaryFolder folder;
  ServiceManager manager(folder / "notify");
  const auto notice = ServiceNotice::from_environment();
  EXPECT_TRUE(notice);
  notice.ready();
  notice.status("job a.log on can0");
  notice.alive();
  notice.stopping();
  // src sd_notify(3), "well-known assignments"
  EXPECT_THAT(manager.heard(),
              ElementsAre("READY=1", "STATUS=job a.log on can0", "WATCHDOG=1", "STOPPING=1"));
}

TEST(ServiceNotice, ReachesASocketOfTheAbstractSpace) {
  ServiceManager manager(abstract_name());
  ServiceNotice::from_environment().ready();
  EXPECT_THAT(manager.heard(), ElementsAre("READY=1"));
}

TEST(ServiceNotice, WithoutAManagerNothingIsSent) {
  unsetenv("NOTIFY_SOCKET");
  setenv("WATCHDOG_USEC", "1000000", 1);
  const auto notice = ServiceNotice::from_environment();
  EXPECT_FALSE(notice);
  EXPECT_EQ(notice.patience(), std::nullopt);
  notice.ready();
  unsetenv("WATCHDOG_USEC");
}

TEST(ServiceNotice, ASocketThatIsNoneIsAsIfUnset) {
  for (const std::string& name :
       {std::string(), std::string("/"), std::string("@"), std::string("relative/path"),
        std::string("vsock:2:1234"), std::string("/nowhere/at/all"), "/" + std::string(200, 'x')}) {
    setenv("NOTIFY_SOCKET", name.c_str(), 1);
    EXPECT_FALSE(ServiceNotice::from_environment()) << name;
  }
  unsetenv("NOTIFY_SOCKET");
}

TEST(ServiceNotice, ALineBreakInAStatusBeginsNoOtherNotice) {
  ServiceManager manager(abstract_name());
  ServiceNotice::from_environment().status("no adapter 'x\nMAINPID=1\t\x7f'");
  EXPECT_THAT(manager.heard(), ElementsAre("STATUS=no adapter 'x MAINPID=1 \x7f'"));
}

TEST(ServiceNotice, AManagerThatWentAwayHoldsUpNothing) {
  auto manager = std::make_unique<ServiceManager>(abstract_name());
  const auto notice = ServiceNotice::from_environment();
  manager.reset();
  notice.ready();
}

TEST(ServiceNotice, AManagerThatDoesNotReadHoldsUpNothing) {
  ServiceManager manager(abstract_name());
  const auto notice = ServiceNotice::from_environment();
  for (int i = 0; i < 10'000; ++i) notice.alive();
  EXPECT_THAT(manager.heard(), testing::Not(IsEmpty()));
}

TEST(ServiceNotice, IsWatchedOnlyWhenTheManagerMeansThisProcess) {
  ServiceManager manager(abstract_name());
  EXPECT_EQ(ServiceNotice::from_environment().patience(), std::nullopt);
  setenv("WATCHDOG_USEC", "30000000", 1);
  EXPECT_EQ(ServiceNotice::from_environment().patience(), 30s);
  setenv("WATCHDOG_PID", std::to_string(::getpid()).c_str(), 1);
  EXPECT_EQ(ServiceNotice::from_environment().patience(), 30s);
  setenv("WATCHDOG_PID", std::to_string(::getppid()).c_str(), 1);
  EXPECT_EQ(ServiceNotice::from_environment().patience(), std::nullopt);
  unsetenv("WATCHDOG_PID");
  for (const char* const wrong : {"", "0", "-5", "30s", "99999999999999999999"}) {
    setenv("WATCHDOG_USEC", wrong, 1);
    EXPECT_EQ(ServiceNotice::from_environment().patience(), std::nullopt) << wrong;
  }
}

}  // namespace
}  // namespace sumplog
