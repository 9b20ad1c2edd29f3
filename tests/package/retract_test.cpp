#include "package/retract.hpp"

#include <gtest/gtest.h>

#include "json/value.hpp"

namespace footbridge::package {
namespace {

std::string entry(const std::string& type, const std::string& id, const std::string& request) {
  return R"({"fullUrl":"urn:uuid:)" + id + R"(","resource":{"resourceType":")" + type +
         R"(","text":{"status":"generated","div":"<div>98 mmHg. Status: final.</div>"},)"
         R"("identifier":[{"system":"s","value":")" +
         id + R"("}],"status":"final","valueQuantity":{"value":0.90}},"request":)" + request + "}";
}

std::string create(const std::string& type, const std::string& id) {
  return entry(
      type, id,
      R"({"method":"POST","url":")" + type + R"(","ifNoneExist":"identifier=s%7C)" + id + "\"}");
}

std::string update(const std::string& type, const std::string& id) {
  return entry(type, id, R"({"method":"PUT","url":")" + type + "?identifier=s%7C" + id + "\"}");
}

std::string bundle(const std::string& entries) {
  return R"({"resourceType":"Bundle","type":"transaction","entry":[)" + entries + "]}";
}

TEST(Retract, WithdrawsWhatTheCorrectionNoLongerSays) {
  const std::string now = bundle(update("Observation", "a"));
  const std::string before = bundle(create("Observation", "a") + "," + create("Observation", "b"));
  const Result<std::string> both = withRetractions(now, before);
  ASSERT_TRUE(both);
  const Result<json::Value> read = json::read(*both);
  ASSERT_TRUE(read) << *both;
  const json::Array& entries = *read->member("entry")->asArray();
  ASSERT_EQ(entries.size(), 2U);
  EXPECT_EQ(entries[0].member("resource")->text("status"), "final");
  const json::Value& gone = *entries[1].member("resource");
  EXPECT_EQ(gone.text("status"), "entered-in-error");
  EXPECT_EQ(gone.member("text")->text("div"),
            "<div>98 mmHg. Status: entered-in-error, withdrawn.</div>");
  EXPECT_EQ(gone.member("text")->text("status"), "generated");
  EXPECT_EQ(gone.member("valueQuantity")->member("value")->asNumber()->text, "0.90");
  EXPECT_EQ(entries[1].member("request")->text("method"), "PUT");
  EXPECT_EQ(entries[1].member("request")->text("url"), "Observation?identifier=s%7Cb");
  EXPECT_EQ(entries[1].text("fullUrl"), "urn:uuid:b");
}

TEST(Retract, AddsNothingIfNothingWentAway) {
  const std::string now = bundle(update("Observation", "a") + "," + update("Observation", "c"));
  EXPECT_EQ(*withRetractions(now, bundle(create("Observation", "a"))), now);
}

TEST(Retract, BringsInstrumentsThatTheWithdrawnPointAtButNoProvenance) {
  const std::string now = bundle(update("Observation", "a"));
  const std::string before =
      bundle(create("Device", "d") + "," + create("Observation", "b") + "," +
             R"({"fullUrl":"urn:uuid:p","resource":{"resourceType":"Provenance"},"request":{}})");
  const std::string both = *withRetractions(now, before);
  EXPECT_NE(both.find(create("Device", "d")), std::string::npos);
  EXPECT_EQ(both.find("Provenance"), std::string::npos);
}

TEST(Retract, WithdrawsOfAnUpdateToo) {
  const std::string now = bundle(update("Observation", "a"));
  const std::string both = *withRetractions(now, bundle(update("Observation", "b")));
  EXPECT_NE(both.find(R"("url":"Observation?identifier=s%7Cb")"), std::string::npos);
}

TEST(Retract, RefusesBundlesOfOthers) {
  const std::string now = bundle(update("Observation", "a"));
  EXPECT_FALSE(withRetractions(now, "{}"));
  EXPECT_FALSE(withRetractions(now, "no JSON"));
  EXPECT_FALSE(withRetractions("[]", now));
  EXPECT_FALSE(withRetractions(now, bundle(R"({"fullUrl":"urn:uuid:b"})")));
  const std::string bare =
      R"({"fullUrl":"urn:uuid:b","resource":{"resourceType":"Observation","status":"final"},"request":{}})";
  EXPECT_FALSE(withRetractions(now, bundle(bare)));
}

}  // namespace
}  // namespace footbridge::package
