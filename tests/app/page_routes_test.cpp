#include "app/page_routes.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <sstream>

namespace sumplog {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;

const std::filesystem::path kFolder = std::filesystem::path(SUMPLOG_SOURCE) / "src" / "page";

std::optional<WebAnswer> get(const std::string& path, const std::string& method = "GET") {
  return page_answer({method, path, {}, {}, {}, {}});
}
std::string header(const WebAnswer& answer, const std::string& wanted) {
  for (const auto& [name, value] : answer.headers)
    if (name == wanted) return value;
  return {};
}
std::string bytes_of(const std::filesystem::path& path) {
  std::ifstream file(path, std::ios::binary);
  std::stringstream text;
  text << file.rdbuf();
  return text.str();
}

TEST(PageRoutes, EveryFileOfThePageIsServedByteForByte) {
  int files = 0;
  for (const auto& one : std::filesystem::recursive_directory_iterator(kFolder)) {
    const std::string suffix = one.path().extension();
    if (!one.is_regular_file() || suffix == ".h" || suffix == ".cmake") continue;
    const std::string name = std::filesystem::relative(one.path(), kFolder);
    const auto answer = get("/page/" + name);
    ASSERT_TRUE(answer) << name;
    EXPECT_EQ(answer->status, 200U) << name;
    EXPECT_EQ(answer->body, bytes_of(one.path())) << name;
    ++files;
  }
  EXPECT_GE(files, 20);
  EXPECT_EQ(get("/")->body, bytes_of(kFolder / "index.html"));
}

TEST(PageRoutes, TheTypeFollowsTheSuffix) {
  EXPECT_EQ(get("/")->type, "text/html; charset=utf-8");
  EXPECT_EQ(get("/page/js/main.js")->type, "text/javascript; charset=utf-8");  // RFC 9239
  EXPECT_EQ(get("/page/css/live.css")->type, "text/css; charset=utf-8");
  EXPECT_EQ(get("/page/messages/en.json")->type, "application/json");
  EXPECT_EQ(get("/page/icon.svg")->type, "image/svg+xml");
}

TEST(PageRoutes, ThePolicyAdmitsNothingInlineAndNothingFromElsewhere) {
  for (const char* path : {"/", "/page/js/main.js"}) {
    const std::string policy = header(*get(path), "Content-Security-Policy");
    EXPECT_THAT(policy, HasSubstr("default-src 'self'"));
    EXPECT_THAT(policy, HasSubstr("frame-ancestors 'none'"));
    EXPECT_THAT(policy, Not(HasSubstr("unsafe")));
    EXPECT_THAT(policy, Not(HasSubstr("http")));
  }
  EXPECT_THAT(get("/")->body, Not(HasSubstr("style=")));
  EXPECT_THAT(get("/")->body, Not(HasSubstr("onclick")));
}

TEST(PageRoutes, WhatIsNoFileOfThePageIsNotThereWhateverTheDiskHolds) {
  for (const char* path : {"/page/", "/page/index.htm", "/page/../app/daemon.cpp", "/page/js/../index.html",
                           "/page//index.html", "/page/embed.cmake", "/page//etc/passwd", "/page/js"}) {
    const auto answer = get(path);
    ASSERT_TRUE(answer) << path;
    EXPECT_EQ(answer->status, 404U) << path;
    EXPECT_THAT(answer->body, HasSubstr("this is no file of the page")) << path;
  }
}

TEST(PageRoutes, OtherPathsAreNotThePagesAndOnlyReadingIsPossible) {
  EXPECT_FALSE(get("/api/state"));
  EXPECT_FALSE(get("/pages"));
  EXPECT_EQ(get("/", "HEAD")->status, 200U);
  EXPECT_EQ(get("/", "POST")->status, 405U);
  EXPECT_EQ(header(*get("/page/icon.svg", "PUT"), "Allow"), "GET, HEAD");
}

TEST(PageRoutes, WithoutTheTokenABrowserIsToldWhatToDoAndNothingElse) {
  const WebAnswer answer = no_token_page();
  EXPECT_EQ(answer.status, 401U);
  EXPECT_EQ(answer.type, "text/html; charset=utf-8");
  EXPECT_THAT(answer.body, HasSubstr("not known to sumplog yet"));
  EXPECT_THAT(answer.body, HasSubstr("lang=\"de\""));
  EXPECT_THAT(answer.body, Not(HasSubstr("/page/"))) << "whatever it asked for would be refused too";
  EXPECT_THAT(header(answer, "Content-Security-Policy"), HasSubstr("default-src 'self'"));
}

}  // namespace
}  // namespace sumplog
