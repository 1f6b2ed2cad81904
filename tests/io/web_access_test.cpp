#include "io/web_access.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "io/web_message.h"

namespace sumplog {
namespace {

using ::testing::HasSubstr;

constexpr char kToken[] = "00112233445566778899aabbccddeeff";

WebAccess on_loopback() {
  return {{"127.0.0.1", 8723}, ""};
}
WebAccess in_the_workshop() {
  return {{"0.0.0.0", 8723}, kToken};
}
WebOrigin from(std::string host) {
  WebOrigin origin;
  origin.host = std::move(host);
  return origin;
}
/// The status with which it is refused; 200: it is not.
unsigned status_of(const WebAccess& access, const WebOrigin& origin) {
  unsigned status = 0;
  const bool heard = access.check(origin, status).has_value();
  EXPECT_EQ(heard, status == 200);
  return status;
}

TEST(WebAccess, OnLoopbackThisComputersNamesAreHeard) {
  for (const char* const host : {"127.0.0.1:8723", "localhost:8723", "LOCALHOST:8723", "[::1]:8723"})
    EXPECT_EQ(status_of(on_loopback(), from(host)), 200U) << host;
}

TEST(WebAccess, AForeignNameThatLeadsHereIsRefused) {
  for (const char* const host :
       {"example.org:8723", "example.org", "127.0.0.1", "127.0.0.1:80", "127.0.0.1:87231",
        "localhost.example.org:8723", "127.0.0.1:8723.example.org"})
    EXPECT_EQ(status_of(on_loopback(), from(host)), 403U) << host;
  EXPECT_EQ(status_of(on_loopback(), {}), 400U);
  EXPECT_EQ(status_of(on_loopback(), from("")), 400U);
}

TEST(WebAccess, APageOfAnotherPlaceMayNotSpeak) {
  WebOrigin page = from("127.0.0.1:8723");
  page.origin = "http://127.0.0.1:8723";
  EXPECT_EQ(status_of(on_loopback(), page), 200U);
  // "null" comes from sandboxed frames and local files (RFC 6454 7.3).
  for (const char* const origin : {"http://example.org", "null", "https://127.0.0.1:8723",
                                   "http://127.0.0.1:8724", "http://localhost:8723", ""}) {
    page.origin = origin;
    EXPECT_EQ(status_of(on_loopback(), page), 403U) << origin;
  }
  page.origin.reset();
  page.fetch_site = "same-origin";
  EXPECT_EQ(status_of(on_loopback(), page), 200U);
  page.fetch_site = "cross-site";
  EXPECT_EQ(status_of(on_loopback(), page), 403U);
}

TEST(WebAccess, ElsewhereTheTokenIsAskedFor) {
  const WebAccess access = in_the_workshop();
  WebOrigin origin = from("bay.example:8723");
  EXPECT_EQ(status_of(access, origin), 401U);
  origin.authorization = "Bearer " + std::string(kToken);
  EXPECT_EQ(status_of(access, origin), 200U);
  origin.authorization = "Bearer " + std::string(kToken) + "0";
  EXPECT_EQ(status_of(access, origin), 401U);
  origin.authorization = "Basic " + std::string(kToken);
  EXPECT_EQ(status_of(access, origin), 401U);
  origin.authorization.reset();
  origin.cookie = "other=1; sumplog_8723=" + std::string(kToken);
  EXPECT_EQ(status_of(access, origin), 200U);
  origin.cookie = "sumplog_8724=" + std::string(kToken);
  EXPECT_EQ(status_of(access, origin), 401U);
  origin.cookie.reset();
  origin.token = kToken;
  EXPECT_EQ(status_of(access, origin), 200U);
  origin.origin = "http://example.org";
  EXPECT_EQ(status_of(access, origin), 403U) << "the token does not make up for a foreign page";
}

TEST(WebAccess, OnlyTheWholeTokenIsTheToken) {
  const WebAccess access = in_the_workshop();
  EXPECT_TRUE(access.is_token(kToken));
  for (const char* const given : {"", "0", "00112233445566778899aabbccddeefe",
                                  "10112233445566778899aabbccddeeff", "00112233445566778899aabbccddeef"})
    EXPECT_FALSE(access.is_token(given)) << given;
  EXPECT_FALSE(access.is_token(std::string(kToken) + kToken));
  EXPECT_FALSE(on_loopback().is_token("")) << "where there is none, nothing is one";
}

TEST(WebAddress, IsANumberAndAPort) {
  const auto text = [](const char* words) {
    const auto parsed = parse_web_address(words);
    return parsed ? parsed->text() + (parsed->loopback() ? " here" : "") : parsed.error().text();
  };
  EXPECT_EQ(text("127.0.0.1:8723"), "127.0.0.1:8723 here");
  EXPECT_EQ(text("localhost:0"), "127.0.0.1:0 here");
  EXPECT_EQ(text("[::1]:8723"), "[::1]:8723 here");
  EXPECT_EQ(text("0.0.0.0:80"), "0.0.0.0:80");
  EXPECT_EQ(text("[::]:80"), "[::]:80");
  for (const char* const words :
       {"", "8723", ":8723", "127.0.0.1", "127.0.0.1:", "127.0.0.1:65536", "127.0.0.1:-1", "127.0.0.1:80x",
        "bay:80", "::1:80", "[127.0.0.1]:80", "127.0.0.256:80"})
    EXPECT_THAT(text(words), HasSubstr("is no ADDRESS:PORT; for example")) << words;
}

TEST(WebTarget, IsPathAndQuery) {
  const auto parsed = parse_target("/api/photos?id=a-1&of=pan%20%2B%C3%A9&by=K.+E&empty=&id=b");
  ASSERT_TRUE(parsed);
  EXPECT_EQ(parsed->path, "/api/photos");
  EXPECT_EQ(parsed->query.at("id"), "b");
  EXPECT_EQ(parsed->query.at("of"), "pan +\xC3\xA9");
  EXPECT_EQ(parsed->query.at("by"), "K. E");
  EXPECT_EQ(parsed->query.at("empty"), "");
  for (const char* const target :
       {"", "api", "http://127.0.0.1/", "/%", "/%4", "/%zz", "/a%00b", "/a?b=%0d%0a", "*"})
    EXPECT_FALSE(parse_target(target)) << target;
  EXPECT_EQ(parse_target("/?x=" + percent_encoded("a&b=c d%\xC3\xA9"))->query.at("x"), "a&b=c d%\xC3\xA9");
}

}  // namespace
}  // namespace sumplog
