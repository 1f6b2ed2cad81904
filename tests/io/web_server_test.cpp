#include "io/web_server.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <future>
#include <nlohmann/json.hpp>

#include "io/web_client.h"
#include "web_fixture.h"

namespace sumplog {
namespace {

using namespace sumplog::test;
using namespace std::chrono_literals;
using ::testing::HasSubstr;
using ::testing::Not;

class WebServerTest : public ::testing::Test {
 protected:
  void start(WebLimits limits = {}, const std::string& token = {}) {
    server = loop_thread.on_loop([&] {
      auto opened = WebServer::open(loop_thread.loop, {"127.0.0.1", 0}, token, limits);
      EXPECT_TRUE(opened) << opened.error().text();
      WebServer::Owner owner;
      owner.on_request = [this](WebRequest request, WebReply reply) {
        ++requests;
        if (request.path == "/later") {
          kept_reply = std::move(reply);
          return;
        }
        WebAnswer answer;
        answer.body = request.method + " " + request.path + " " + request.body;
        reply(std::move(answer));
      };
      owner.events_after = [this](std::uint64_t after, std::size_t most) -> std::optional<EventBlock> {
        if (after < gone_before) return std::nullopt;
        EventBlock block{{}, after};
        while (block.last < events && block.bytes.size() < most)
          block.bytes +=
              "id: " + std::to_string(++block.last) + "\ndata: " + std::string(event_bytes, 'x') + "\n\n";
        return block;
      };
      owner.first_event = [](const WebRequest& request) {
        return std::strtoull(request.last_event_id.c_str(), nullptr, 10);
      };
      owner.no_token_page = [] { return WebAnswer{401, "text/html", "for a browser", {}}; };
      (*opened)->begin(std::move(owner));
      return std::move(*opened);
    });
    port = server->address().port;
  }
  void TearDown() override {
    loop_thread.on_loop([&] {
      kept_reply = {};
      server.reset();
    });
  }
  [[nodiscard]] std::string host() const { return "Host: 127.0.0.1:" + std::to_string(port) + "\r\n"; }
  std::string ask(const std::string& head, const std::string& body = {}) const {
    RawClient client(port);
    client.send(head + "\r\n" + host() +
                "Connection: close\r\nContent-Length: " + std::to_string(body.size()) + "\r\n\r\n" + body);
    return client.read_all();
  }
  [[nodiscard]] std::size_t connections() {
    return loop_thread.on_loop([&] { return server->connections(); });
  }
  void wait_for_connections(std::size_t wanted) {
    const auto limit = std::chrono::steady_clock::now() + 20s;
    while (connections() != wanted && std::chrono::steady_clock::now() < limit)
      std::this_thread::sleep_for(2ms);
    EXPECT_EQ(connections(), wanted);
  }
  void say(std::uint64_t how_many) {
    loop_thread.on_loop([&] {
      events += how_many;
      server->wake_streams();
    });
  }
  RawClient follow(const std::string& more = {}, int buffer = 0) const {
    RawClient client(port, buffer);
    client.send("GET /api/events HTTP/1.1\r\n" + host() + more + "\r\n");
    return client;
  }

  LoopThread loop_thread;
  std::unique_ptr<WebServer> server;
  std::uint16_t port = 0;
  std::atomic<int> requests = 0;
  WebReply kept_reply;
  std::uint64_t events = 0;
  std::uint64_t gone_before = 0;
  std::size_t event_bytes = 10;
};

TEST_F(WebServerTest, ARequestGetsItsAnswerAndTheConnectionServesTheNext) {
  start();
  RawClient client(port);
  client.send("GET /a?b=1 HTTP/1.1\r\n" + host() + "\r\n");
  EXPECT_THAT(client.read_until("GET /a "), HasSubstr("HTTP/1.1 200 OK"));
  client.forget();
  client.send("POST /c HTTP/1.1\r\n" + host() + "Content-Length: 5\r\n\r\nab");
  client.send("cde");
  EXPECT_THAT(client.read_until("abcde"), HasSubstr("POST /c abcde"));
  EXPECT_FALSE(client.closed());
}

// RFC 9110 9.3.2
TEST_F(WebServerTest, HeadGetsTheHeaderOfAGetAndNoBody) {
  start();
  RawClient client(port);
  client.send("HEAD /a HTTP/1.1\r\n" + host() + "\r\nGET /b HTTP/1.1\r\n" + host() + "\r\n");
  const std::string heard = client.read_until("GET /b ");
  EXPECT_THAT(heard, HasSubstr("Content-Length: " + std::to_string(std::string("HEAD /a ").size())));
  EXPECT_THAT(heard, Not(HasSubstr("HEAD /a ")));
  EXPECT_THAT(heard, HasSubstr("\r\n\r\nHTTP/1.1 200 OK"));
}

TEST_F(WebServerTest, AnAnswerMayComeLaterAndOnlyOnce) {
  start();
  RawClient client(port);
  client.send("GET /later HTTP/1.1\r\n" + host() + "Connection: close\r\n\r\n");
  while (requests == 0) std::this_thread::sleep_for(1ms);
  EXPECT_EQ(loop_thread.on_loop([&] { return server->answers_under_way(); }), 1U);
  loop_thread.on_loop([&] {
    kept_reply({200, "text/plain", "first", {}});
    kept_reply({200, "text/plain", "second", {}});
  });
  EXPECT_THAT(client.read_all(), ::testing::EndsWith("first"));
  EXPECT_EQ(loop_thread.on_loop([&] { return server->answers_under_way(); }), 0U);
}

TEST_F(WebServerTest, WhatIsNotHttpIsAnsweredAndCostsThatConnectionOnly) {
  start();
  for (const std::string bytes :
       {"HELLO\r\n\r\n", "GET\r\n\r\n", "GET / HTTP/9.9\r\n\r\n", "GET / HTTP/1.1\r\nno colon\r\n\r\n",
        "GET / HTTP/1.1\r\nContent-Length: -1\r\n\r\n",
        "GET / HTTP/1.1\r\nHost: a\r\nContent-Length: 1\r\nContent-Length: 2\r\n\r\nxx",
        "\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03", "GET % HTTP/1.1\r\nHost: a\r\n\r\n"}) {
    RawClient client(port);
    client.send(bytes);
    client.send("\r\n\r\n");
    const std::string answer = client.read_all();
    EXPECT_EQ(status_of(answer), 400U) << bytes << answer;
    EXPECT_THAT(answer, HasSubstr("{\"error\":\"")) << bytes;
  }
  EXPECT_EQ(requests, 0);
  EXPECT_EQ(status_of(ask("GET /still HTTP/1.1")), 200U);
}

TEST_F(WebServerTest, HeadersAndBodiesHaveTheirLimits) {
  start();
  const std::string long_header = "X: " + std::string(20'000, 'x') + "\r\n";
  RawClient client(port);
  client.send("GET / HTTP/1.1\r\n" + host() + long_header + "\r\n");
  EXPECT_EQ(status_of(client.read_all()), 431U);
  EXPECT_EQ(status_of(ask("POST /a HTTP/1.1", std::string(64U << 10, 'x'))), 200U);
  EXPECT_EQ(status_of(ask("POST /a HTTP/1.1", std::string((64U << 10) + 1, 'x'))), 413U);
  EXPECT_EQ(status_of(ask("POST /api/photos HTTP/1.1", std::string(1U << 20, 'x'))), 200U);
  EXPECT_EQ(status_of(ask("POST /api/photos HTTP/1.1", std::string((16U << 20) + 1, 'x'))), 413U);
}

TEST_F(WebServerTest, ABodyInChunksIsRefusedBeforeItIsRead) {
  start();
  RawClient client(port);
  client.send("POST /a HTTP/1.1\r\n" + host() + "Transfer-Encoding: chunked\r\n\r\n0\r\n\r");
  const std::string answer = client.read_all();
  EXPECT_EQ(status_of(answer), 411U);
  EXPECT_THAT(answer, HasSubstr("Content-Length"));
}

TEST_F(WebServerTest, AClientThatWaitsForGoAheadGetsIt) {
  start();
  RawClient client(port);
  client.send("POST /a HTTP/1.1\r\n" + host() +
              "Expect: 100-continue\r\nContent-Length: 3\r\nConnection: close\r\n\r\n");
  EXPECT_THAT(client.read_until("100"), HasSubstr("HTTP/1.1 100 Continue"));
  client.send("abc");
  EXPECT_THAT(client.read_all(), HasSubstr("POST /a abc"));
}

TEST_F(WebServerTest, AClientThatSendsNothingOrTooSlowlyIsCutOff) {
  WebLimits limits;
  limits.header_time = 50ms;
  limits.body_time = 50ms;
  start(limits);
  RawClient silent(port);
  silent.read_all();
  EXPECT_TRUE(silent.closed());
  RawClient half(port);
  half.send("POST /a HTTP/1.1\r\n" + host() + "Content-Length: 10\r\n\r\nabc");
  half.read_all();
  EXPECT_TRUE(half.closed());
  EXPECT_EQ(requests, 0);
  wait_for_connections(0);
}

TEST_F(WebServerTest, ConnectionsTooManyAreTurnedAwayAndRoomComesBack) {
  WebLimits limits;
  limits.connections = 3;
  start(limits);
  std::vector<RawClient> clients;
  for (int i = 0; i < 3; ++i) clients.emplace_back(port);
  wait_for_connections(3);
  RawClient other(port);
  EXPECT_THAT(other.read_all(), HasSubstr("503 Service Unavailable"));
  clients.pop_back();
  wait_for_connections(2);
  EXPECT_EQ(status_of(ask("GET /again HTTP/1.1")), 200U);
}

TEST_F(WebServerTest, WhoTakesConnectionsAndAsksForNothingKeepsNobodyOut) {
  WebLimits limits;
  limits.connections = 3;
  limits.grace_time = 50ms;
  start(limits);
  RawClient asked(port);
  asked.send("GET /a HTTP/1.1\r\n" + host() + "\r\n");
  asked.read_until("GET /a ");
  std::vector<RawClient> slow;
  for (int i = 0; i < 2; ++i) slow.emplace_back(port).send("GET / HTTP/1.1\r\nX: ");
  wait_for_connections(3);
  std::this_thread::sleep_for(2 * limits.grace_time);
  EXPECT_EQ(status_of(ask("GET /b HTTP/1.1")), 200U);
  slow.front().read_all();
  EXPECT_TRUE(slow.front().closed()) << "the oldest goes";
  asked.forget();
  asked.send("GET /c HTTP/1.1\r\n" + host() + "\r\n");
  EXPECT_THAT(asked.read_until("GET /c "), HasSubstr("200 OK")) << "who has asked before stays";
}

TEST_F(WebServerTest, ForeignPagesAreRefusedBeforeTheirBodyIsRead) {
  start();
  RawClient rebound(port);
  rebound.send("POST /api/photos HTTP/1.1\r\nHost: example.org\r\nContent-Length: 10000000\r\n\r\n");
  EXPECT_EQ(status_of(rebound.read_until("way_out")), 403U);
  EXPECT_EQ(status_of(ask("POST /api/entries HTTP/1.1\r\nOrigin: http://example.org", "{}")), 403U);
  EXPECT_EQ(status_of(ask("GET /api/state HTTP/1.1\r\nSec-Fetch-Site: cross-site")), 403U);
  EXPECT_EQ(status_of(ask("GET / HTTP/1.1\r\nSec-Fetch-Site: cross-site")), 200U) << "a link to the page";
  EXPECT_EQ(requests, 1);
}

TEST_F(WebServerTest, TheTokenOpensThePageAndTheCookieKeepsItOpen) {
  start({}, "abcdef0123456789");
  EXPECT_EQ(status_of(ask("GET / HTTP/1.1")), 401U);
  EXPECT_EQ(status_of(ask("GET /?token=wrong HTTP/1.1")), 401U);
  EXPECT_EQ(status_of(ask("GET /api/state?token=abcdef0123456789 HTTP/1.1")), 401U)
      << "only the page takes it so";
  const std::string opened = ask("GET /?token=abcdef0123456789 HTTP/1.1");
  EXPECT_EQ(status_of(opened), 303U);
  EXPECT_THAT(opened, HasSubstr("Location: /\r\n"));
  const std::string cookie = "sumplog_" + std::to_string(port) + "=abcdef0123456789";
  EXPECT_THAT(opened, HasSubstr("Set-Cookie: " + cookie + "; Path=/; HttpOnly; SameSite=Lax"));
  EXPECT_EQ(status_of(ask("GET /api/state HTTP/1.1\r\nCookie: " + cookie)), 200U);
  EXPECT_EQ(status_of(ask("GET /api/state HTTP/1.1\r\nAuthorization: Bearer abcdef0123456789")), 200U);
  const auto answer =
      ask_web({"127.0.0.1", std::to_string(port), "abcdef0123456789"}, {"GET", "/api/state", "", ""});
  ASSERT_TRUE(answer);
  EXPECT_EQ(answer->status, 200U);
}

TEST_F(WebServerTest, ABrowserWithoutTheTokenGetsThePageForItAndOthersTheirError) {
  start({}, "abcdef0123456789");
  const std::string refused = ask("GET / HTTP/1.1");
  EXPECT_EQ(status_of(refused), 401U);
  EXPECT_THAT(refused, HasSubstr("WWW-Authenticate: Bearer\r\n"));  // RFC 9110 15.5.2
  EXPECT_THAT(refused, HasSubstr("for a browser"));
  EXPECT_THAT(ask("GET /?token=wrong HTTP/1.1"), HasSubstr("for a browser"));
  for (const char* const head :
       {"GET /api/state HTTP/1.1", "POST / HTTP/1.1", "GET /page/js/main.js HTTP/1.1"})
    EXPECT_THAT(ask(head), HasSubstr("{\"error\":\"this needs the token")) << head;
  EXPECT_EQ(requests, 0);
}

TEST_F(WebServerTest, EventsComeInOrderAndGoOnWhereAClientLeft) {
  start();
  events = 3;
  RawClient client = follow();
  EXPECT_THAT(client.read_until("id: 3"), HasSubstr("Content-Type: text/event-stream"));
  EXPECT_THAT(client.read_until("id: 3"), HasSubstr("id: 1\ndata: xxxxxxxxxx\n\nid: 2\n"));
  say(2);
  EXPECT_THAT(client.read_until("id: 5"), HasSubstr("id: 4\n"));
  RawClient again = follow("Last-Event-ID: 4\r\n");
  EXPECT_THAT(again.read_until("id: 5"), Not(HasSubstr("id: 4\n")));
}

TEST_F(WebServerTest, AStreamWithoutNewsShowsThatItIsAlive) {
  WebLimits limits;
  limits.heartbeat_time = 10ms;
  start(limits);
  RawClient client = follow();
  EXPECT_THAT(client.read_until(": alive\n\n: alive"), HasSubstr(": alive\n\n: alive"));
  say(1);
  EXPECT_THAT(client.read_until("id: 1"), HasSubstr("id: 1"));
  client.forget();
  EXPECT_THAT(client.read_until(": alive"), HasSubstr(": alive"));
}

TEST_F(WebServerTest, AClientThatCannotFollowIsCutOffAndMemoryDoesNotGrow) {
  WebLimits limits;
  limits.send_time = 200ms;
  start(limits);
  event_bytes = 1000;
  RawClient sleeper = follow({}, 4096);
  wait_for_connections(1);
  say(100'000);  // 100 MB: no socket buffer takes that
  wait_for_connections(0);
  RawClient late = follow("Last-Event-ID: 5\r\n");
  loop_thread.on_loop([&] { gone_before = 10; });
  say(1);
}

TEST_F(WebServerTest, AClientWhoseNextLineIsGoneIsCutOff) {
  start();
  gone_before = 10;
  events = 20;
  RawClient behind = follow("Last-Event-ID: 5\r\n");
  behind.read_all();
  EXPECT_TRUE(behind.closed());
  RawClient fresh = follow("Last-Event-ID: 15\r\n");
  EXPECT_THAT(fresh.read_until("id: 20"), HasSubstr("id: 16\n"));
}

TEST_F(WebServerTest, StreamsTooManyAreTurnedAway) {
  WebLimits limits;
  limits.event_streams = 2;
  start(limits);
  events = 1;
  RawClient one = follow();
  RawClient two = follow();
  one.read_until("id: 1");
  two.read_until("id: 1");
  RawClient three = follow();
  EXPECT_EQ(status_of(three.read_until("way_out")), 503U);
}

TEST_F(WebServerTest, StoppingEndsStreamsAfterTheirLastLinesAndTakesNobodyIn) {
  start();
  RawClient client = follow();
  client.read_until("retry");
  RawClient idle(port);
  idle.send("GET /a HTTP/1.1\r\n" + host() + "\r\n");
  idle.read_until("GET /a");
  loop_thread.on_loop([&] {
    events = 2;
    server->wake_streams();
    server->stop();
  });
  EXPECT_THAT(client.read_all(), HasSubstr("id: 2"));
  EXPECT_TRUE(client.closed());
  idle.read_all();
  EXPECT_TRUE(idle.closed());
  EXPECT_FALSE(RawClient(port).connected());
}

TEST_F(WebServerTest, APortThatIsTakenIsSaid) {
  start();
  const auto other = WebServer::open(loop_thread.loop, {"127.0.0.1", port}, {});
  ASSERT_FALSE(other);
  EXPECT_THAT(other.error().text(),
              HasSubstr("cannot listen: Address already in use; stop the other program"));
  const auto foreign = WebServer::open(loop_thread.loop, {"192.0.2.1", 0}, {});  // RFC 5737: nobody's
  ASSERT_FALSE(foreign);
  EXPECT_THAT(foreign.error().text(), HasSubstr("name an address of this computer"));
}

TEST_F(WebServerTest, TheClientSaysWhatIsWrong) {
  start();
  const std::string at = std::to_string(port);
  const auto answer = ask_web({"127.0.0.1", at, ""}, {"POST", "/x", "application/json", "{\"a\":1}"});
  ASSERT_TRUE(answer) << answer.error().text();
  EXPECT_EQ(answer->body, "POST /x {\"a\":1}");
  const auto silent = ask_web({"127.0.0.1", at, ""}, {"GET", "/later", "", ""}, 50ms);
  ASSERT_FALSE(silent);
  EXPECT_THAT(silent.error().text(), HasSubstr("gave no answer"));
  loop_thread.on_loop([&] { server->stop(); });
  const auto gone = ask_web({"127.0.0.1", at, ""}, {"GET", "/", "", ""});
  ASSERT_FALSE(gone);
  EXPECT_THAT(
      gone.error().text(),
      HasSubstr("127.0.0.1:" + at + ": cannot reach sumplog: Connection refused; is it still running?"));
  EXPECT_FALSE(parse_web_place("ftp://a:1/"));
  EXPECT_EQ(parse_web_place("http://[::1]:80/")->host, "::1");
}

}  // namespace
}  // namespace sumplog
