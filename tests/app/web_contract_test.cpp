#include "app/web_contract.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <set>

#include "core/item/entry_names.h"
#include "core/record/entry_table.h"

namespace sumplog {
namespace {

using ::testing::HasSubstr;

/// Writes down what the contract asks the job for.
class WebContractTest : public ::testing::Test {
 protected:
  std::string ask(const std::string& method, const std::string& path, const std::string& body = {},
                  const std::string& type = "application/json",
                  std::map<std::string, std::string> query = {}) {
    std::string answered = "nothing";
    contract.on_request({method, path, std::move(query), type, {}, body}, [&](const WebAnswer& answer) {
      EXPECT_EQ(answered, "nothing") << "two answers";
      answered = std::to_string(answer.status) + " " + answer.body;
    });
    return answered;
  }
  std::string enter(const std::string& body) { return ask("POST", "/api/entries", body); }

  std::vector<std::string> asked;
  WebContract contract{
      {"0011",
       [this] {
         asked.emplace_back("state");
         return std::string("{}");
       },
       [] { return std::string("{\"window\":{}}"); }, [] { return std::string("{\"entries\":[]}"); },
       [this](const EntryWish& wish, const WebReply& reply) {
         asked.push_back("entry " + wish.id + " " + wish.name + " " + wish.fields);
         reply({});
       },
       [this](const std::string& id, const std::string& bytes, const std::string& of, const std::string& by,
              const WebReply& reply) {
         asked.push_back("photo " + id + " " + bytes + " " + of + " " + by);
         reply({});
       },
       [this](const std::string& sign_over, const WebReply& reply) {
         asked.push_back("close " + sign_over);
         reply({});
       },
       [this](const CourseOptions& options, std::optional<Duration> newest) {
         asked.push_back("course " + std::to_string(options.width) + " " + std::to_string(options.height) +
                         (options.fahrenheit ? " F" : " C") +
                         (newest ? " " + std::to_string(newest->count() / 60'000'000) : ""));
         return std::string("<svg/>");
       }}};
};

TEST_F(WebContractTest, NothingIsAcknowledgedBeforeThereIsAJob) {
  contract = WebContract({"0011",
                          [] { return std::string("{}"); },
                          [] { return std::string("{}"); },
                          [] { return std::string("{}"); },
                          [this](const EntryWish&, const WebReply& reply) {
                            asked.emplace_back("entry");
                            reply({});
                          },
                          [this](const std::string&, const std::string&, const std::string&,
                                 const std::string&, const WebReply& reply) {
                            asked.emplace_back("photo");
                            reply({});
                          },
                          [this](const std::string&, const WebReply& reply) {
                            asked.emplace_back("close");
                            reply({});
                          },
                          {},
                          [](const WebRequest&, const WebReply& reply) { reply({}); }});
  for (const std::string& answer : {enter(R"({"id":"a-2","name":"plug_out"})"),
                                    ask("POST", "/api/scan", R"({"id":"a-3","scan":"before"})"),
                                    ask("POST", "/api/photos", "bytes", "image/png", {{"id", "a-4"}}),
                                    ask("POST", "/api/jobs", R"({"action":"close"})")})
    EXPECT_THAT(answer, HasSubstr("409 {\"error\":\"there is no job yet\""));
  EXPECT_TRUE(asked.empty());
  EXPECT_THAT(ask("GET", "/api/state"), HasSubstr("200 {}"));
}

TEST_F(WebContractTest, EachRouteAsksForItsOwn) {
  EXPECT_THAT(ask("GET", "/api/state"), HasSubstr("200 {}"));
  EXPECT_THAT(ask("GET", "/"), HasSubstr("200 <!doctype html>"));
  EXPECT_EQ(ask("GET", "/api/terms"), "200 {\"window\":{}}\n");
  EXPECT_EQ(ask("GET", "/api/entries"), "200 {\"entries\":[]}\n");
  enter(R"({"id":"a-1","name":"fluid_out","fields":{"litres":4.5}})");
  enter(R"({"id":"a-2","name":"plug_out"})");
  ask("POST", "/api/scan", R"({"id":"a-3","scan":"before"})");
  ask("POST", "/api/photos", "bytes", "image/png", {{"id", "a-4"}, {"of", "pan"}});
  ask("POST", "/api/jobs", R"({"action":"close","sign_over":"K. Example"})");
  EXPECT_EQ(asked, (std::vector<std::string>{"state", "entry a-1 fluid_out {\"litres\":4.5}",
                                             "entry a-2 plug_out {}", "entry a-3 scan {\"scan\":\"before\"}",
                                             "photo a-4 bytes pan ", "close K. Example"}));
}

TEST_F(WebContractTest, TheCourseIsAskedForInSizeAndUnit) {
  const auto course = [&](const std::map<std::string, std::string>& query) {
    return ask("GET", "/api/course.svg", {}, {}, query);
  };
  EXPECT_EQ(course({}), "200 <svg/>");
  course({{"unit", "F"}, {"width", "1000"}, {"height", "400"}, {"minutes", "30"}});
  EXPECT_EQ(asked, (std::vector<std::string>{"course 720 320 C", "course 1000 400 F 30"}));
  asked.clear();
  const std::pair<std::string, std::string> wrong[] = {
      {"unit", "K"},      {"unit", ""},          {"width", "0"},
      {"width", "1e3"},   {"width", "-400"},     {"height", "99999999999999999999"},
      {"minutes", "1.5"}, {"minutes", "100000"}, {"height", " 300"}};
  for (const auto& [key, value] : wrong)
    EXPECT_THAT(course({{key, value}}),
                HasSubstr("422 {\"error\":\"this value does not fit\",\"where\":\"course.svg, " + key))
        << value;
  EXPECT_TRUE(asked.empty());
}

TEST_F(WebContractTest, WhatIsNotThereAndWhatCannotBeDoneIsSaidWithTheWayOut) {
  EXPECT_THAT(
      ask("GET", "/nothing"),
      HasSubstr(
          "404 {\"error\":\"there is nothing here\",\"where\":\"/nothing\",\"way_out\":\"there is: /,"));
  EXPECT_THAT(ask("GET", "/api/scan"), HasSubstr("405"));
  EXPECT_THAT(ask("DELETE", "/api/entries"), HasSubstr("use GET, POST"));
  EXPECT_THAT(ask("DELETE", "/api/state"), HasSubstr("use GET"));
  EXPECT_THAT(ask("POST", "/api/entries", "{}", "text/plain"), HasSubstr("415"));
  EXPECT_THAT(ask("POST", "/api/photos", "x", "text/plain", {{"id", "a"}}), HasSubstr("415"));
  EXPECT_THAT(ask("POST", "/api/photos", "x", "image/png"), HasSubstr("this is no id"));
  for (const char* const body : {"", "{", "[]", "null", "{\"id\":1e999}"})
    EXPECT_THAT(enter(body), HasSubstr("400")) << body;
  EXPECT_THAT(enter(std::string(30'000, '[')), HasSubstr("400"));
  EXPECT_THAT(enter("{\"fields\":" + std::string(30'000, '{')), HasSubstr("400"));
  EXPECT_THAT(enter(R"({"id":"a","name":"plug_out","why":1})"),
              HasSubstr("422 {\"error\":\"unknown key 'why'\""));
  for (const char* const id : {R"("")", "7", R"("a b")", R"("a/b")", "null"})
    EXPECT_THAT(enter(std::string(R"({"name":"plug_out","id":)") + id + "}"), HasSubstr("this is no id"))
        << id;
  EXPECT_THAT(enter(R"({"id":"a","name":"no_such"})"), HasSubstr("the entries are: intake"));
  EXPECT_THAT(enter(R"({"id":"a","name":"plug_out","fields":[1]})"), HasSubstr("not a JSON object"));
  EXPECT_THAT(enter(R"({"id":"a","name":"photo","fields":{"file":"/etc/passwd","sha256":"0"}})"),
              HasSubstr("POST /api/photos"));
  EXPECT_THAT(ask("POST", "/api/scan", R"({"id":"a","scan":"all"})"),
              HasSubstr("one of: before, after, during"));
  EXPECT_THAT(ask("POST", "/api/jobs", R"({"action":"delete"})"), HasSubstr("close is the only action"));
  EXPECT_TRUE(asked.empty());
}

TEST_F(WebContractTest, ARequestForAnotherJobIsRefused) {
  EXPECT_THAT(
      ask("POST", "/api/entries", R"({"id":"a","name":"plug_out"})", "application/json", {{"job", "0012"}}),
      HasSubstr("409 {\"error\":\"another job is held here\""));
  EXPECT_TRUE(asked.empty());
  EXPECT_THAT(
      ask("POST", "/api/entries", R"({"id":"a","name":"plug_out"})", "application/json", {{"job", "0011"}}),
      HasSubstr("200"));
}

// What a client can bring about is an entry by its name, and no more; which entries make the program send anything is shown
// in core/asker/entries_ask_nothing_test.cpp.
TEST_F(WebContractTest, NoRouteTakesAnIdentifierAServiceOrBytesForTheBus) {
  const std::vector<std::string> smuggled{R"("request":"2F01")", R"("service":16)", R"("can_id":"7E0")",
                                          R"("data":"0210030000000000")", R"("frame":"7E0#02100300")"};
  for (const std::string& extra : smuggled) {
    for (const EntryRule& entry : entry_table()) {
      const std::string name = "\"name\":\"" + std::string(entry.name) + "\"";
      EXPECT_THAT(enter("{\"id\":\"a\"," + name + "," + extra + "}"), HasSubstr("422"));
      EXPECT_THAT(enter("{\"id\":\"a\"," + name + ",\"fields\":{" + extra + "}}"), HasSubstr("422"));
    }
    EXPECT_THAT(ask("POST", "/api/scan", "{\"id\":\"a\"," + extra + "}"), HasSubstr("422"));
    EXPECT_THAT(ask("POST", "/api/jobs", "{\"action\":\"close\"," + extra + "}"), HasSubstr("422"));
  }
  EXPECT_TRUE(asked.empty());
}

}  // namespace
}  // namespace sumplog
