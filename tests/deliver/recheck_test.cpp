// A later look at what was delivered, against a server that answers what a script says.

#include "deliver/recheck.hpp"

#include <gtest/gtest.h>

#include "support/wire_server.hpp"

namespace footbridge {
namespace {

using deliver::Delivered;
using deliver::Looked;
using How = deliver::Looked::How;
using std::chrono::milliseconds;

std::string observation(const std::string& value) {
  return R"({"resourceType":"Observation","id":"7","status":"final","valueQuantity":{"value":)" +
         value + "}}";
}

Delivered delivered(const std::string& value, const std::string& differences = "") {
  Delivered out;
  out.bundle =
      R"({"resourceType":"Bundle","entry":[{"fullUrl":"urn:uuid:a","resource":)" +
      observation(value) +
      R"(,"request":{"method":"POST","url":"Observation","ifNoneExist":"identifier=x"}}]})";
  out.receipt =
      R"({"status":200,"resources":[{"status":201,"location":"Observation/7/_history/1"}])" +
      differences + "}";
  return out;
}

Delivered accepted(const std::string& value, const std::string& stored) {
  Delivered out =
      delivered(value, R"(,"differences":[{"resource":"Observation/7","sent":)" +
                           observation(value) + R"(,"stored":)" + observation(stored) + "}]");
  out.how = Delivered::How::Accepted;
  return out;
}

test::WireAnswer answer(int status, const std::string& body = "") {
  return {test::WireAnswer::Kind::Whole, status, {}, body, 0};
}

/// What a batch of one read gave.
test::WireAnswer batch(const std::string& value) {
  return answer(200, R"({"resourceType":"Bundle","type":"batch-response","entry":[{"resource":)" +
                         observation(value) + R"(,"response":{"status":"200"}}]})");
}

config::Server at(int port) {
  config::Server out;
  out.base = "http://127.0.0.1:" + std::to_string(port);
  out.totalTime = milliseconds(400);
  out.backOff = {milliseconds(1)};
  return out;
}

struct Seen {
  Looked found;
  std::vector<test::WireRequest> requests;
};

Seen look(const Delivered& what, std::vector<test::WireAnswer> script) {
  const test::WireServer server(std::move(script));
  Seen out;
  out.found = deliver::Recheck(at(server.port())).look(what);
  out.requests = server.requests();
  return out;
}

TEST(Recheck, FindsWhatIsThereAsItWasSent) {
  const Seen seen = look(delivered("0.90"), {batch("0.9")});
  EXPECT_EQ(seen.found.how, How::Same) << seen.found.reason;
  EXPECT_TRUE(seen.found.reason.empty());
  ASSERT_EQ(seen.requests.size(), 1U);
  EXPECT_NE(seen.requests[0].body.find(R"("url":"Observation/7")"), std::string::npos);
  EXPECT_NE(seen.requests[0].head.find("Cache-Control: no-cache"), std::string::npos);
}

TEST(Recheck, TellsBothVersionsOfWhatDiffers) {
  const Seen seen = look(delivered("0.90"), {batch("0.09")});
  EXPECT_EQ(seen.found.how, How::Differs);
  EXPECT_NE(seen.found.reason.find("sent 0.90, stored 0.09"), std::string::npos)
      << seen.found.reason;
  EXPECT_EQ(seen.found.reason.find("releasing"), std::string::npos) << "nothing is held";
  EXPECT_NE(seen.found.evidence.find(R"("value":0.90)"), std::string::npos);
  EXPECT_NE(seen.found.evidence.find(R"("value":0.09)"), std::string::npos);
}

/// A delivery whose bundle finds its patient by identifier.
Delivered referring() {
  Delivered out = delivered("0.90");
  const std::string from = R"("status":"final")";
  const std::string subject = R"("subject":{"reference":"Patient?identifier=urn%3Ap%7C1"},)";
  out.bundle.insert(out.bundle.find(from), subject);
  return out;
}

/// What a batch of the patient and one read gave.
test::WireAnswer batchWith(const std::string& patients, const std::string& subject = "Patient/p1") {
  std::string stored = observation("0.90");
  stored.insert(1, R"("subject":{"reference":")" + subject + "\"},");
  return answer(200, R"({"resourceType":"Bundle","entry":[{"resource":{"resourceType":"Bundle",)"
                     R"("entry":[)" +
                         patients + R"(]},"response":{"status":"200"}},{"resource":)" + stored +
                         R"(,"response":{"status":"200"}}]})");
}

std::string patient(const std::string& id, const std::string& more) {
  return R"({"resource":{"resourceType":"Patient","id":")" + id +
         R"(","name":[{"family":"Hollins"}])" + more + "}}";
}

struct OutOfUse {
  const char* name;
  std::string patients;
  std::string says;  ///< "" if nothing is amiss
};

const std::string kInactive = R"(,"active":false)";
const std::string kReplaced =
    R"(,"active":true,"link":[{"other":{"reference":"Patient/p2"},"type":"replaced-by"}])";
const std::string kReplaces = R"(,"link":[{"other":{"reference":"Patient/p0"},"type":"replaces"}])";

class RecheckOfPatient : public ::testing::TestWithParam<OutOfUse> {};

// FHIR R4 Patient.active, Patient.link.type: readings of a merged patient are looked for elsewhere.
TEST_P(RecheckOfPatient, NoticesWhoIsNoLongerInUse) {
  const Seen seen = look(referring(), {batchWith(GetParam().patients)});
  EXPECT_EQ(seen.found.how, GetParam().says.empty() ? How::Same : How::Differs)
      << seen.found.reason;
  EXPECT_NE(seen.found.reason.find(GetParam().says), std::string::npos) << seen.found.reason;
  EXPECT_EQ(seen.found.evidence.find("Hollins"), std::string::npos)
      << "of the patient only the difference is kept";
}

INSTANTIATE_TEST_SUITE_P(
    Patients, RecheckOfPatient,
    ::testing::Values(OutOfUse{"inUse", patient("p1", ""), ""},
                      OutOfUse{"survivor", patient("p1", kReplaces), ""},
                      OutOfUse{"inactive", patient("p1", kInactive),
                               "Patient/p1 active: sent true, stored false"},
                      OutOfUse{"replaced", patient("p1", kReplaced),
                               "Patient/p1 link: sent nothing, stored replaced-by"},
                      OutOfUse{"besideTheOneInUse",
                               patient("p1", kInactive) + "," + patient("p2", ""), "subject"},
                      OutOfUse{"besideAnotherThatIsNot",
                               patient("p1", "") + "," + patient("p2", kInactive), ""}),
    [](const auto& tested) { return tested.param.name; });

TEST(Recheck, FindsWhatVanished) {
  const Seen seen =
      look(delivered("0.90"),
           {answer(200, R"({"resourceType":"Bundle","entry":[{"response":{"status":"410"}}]})")});
  EXPECT_EQ(seen.found.how, How::Differs);
  EXPECT_NE(seen.found.reason.find("(deleted)"), std::string::npos) << seen.found.reason;
}

TEST(Recheck, ReadsOneByOneWhereBatchesAreRefused) {
  const test::WireServer server(
      {answer(404), answer(200, observation("0.90")), answer(200, observation("0.80"))});
  deliver::Recheck recheck(at(server.port()));
  EXPECT_EQ(recheck.look(delivered("0.90")).how, How::Same);
  EXPECT_EQ(recheck.look(delivered("0.90")).how, How::Differs);
  const auto requests = server.requests();
  ASSERT_EQ(requests.size(), 3U) << "the refusal is remembered";
  EXPECT_EQ(requests[1].path, "/Observation/7");
  EXPECT_EQ(requests[2].path, "/Observation/7");
}

TEST(Recheck, TriesAgainWhatPasses) {
  const Seen seen = look(delivered("0.90"), {answer(503), answer(429), batch("0.90")});
  EXPECT_EQ(seen.found.how, How::Same) << seen.found.reason;
  EXPECT_EQ(seen.requests.size(), 3U);
}

TEST(Recheck, GivesUpAfterThreeTries) {
  const Seen seen = look(delivered("0.90"), {});
  EXPECT_EQ(seen.found.how, How::Unread);
  EXPECT_EQ(seen.requests.size(), 3U);
  EXPECT_FALSE(seen.found.reason.empty());
}

TEST(Recheck, NeverTakesSilenceForWell) {
  int port = 0;
  {
    const test::WireServer closed({});
    port = closed.port();
  }
  const Looked found = deliver::Recheck(at(port)).look(delivered("0.90"));
  EXPECT_EQ(found.how, How::Unreachable);
  EXPECT_FALSE(found.reason.empty());
}

TEST(Recheck, NeverTakesAnotherAnswerForWell) {
  for (const std::string body :
       {"<html>log in</html>", R"({"resourceType":"Bundle"})", R"({"resourceType":"Patient"})"}) {
    const Seen seen =
        look(delivered("0.90"), {answer(200, body), answer(200, body), answer(200, body)});
    EXPECT_EQ(seen.found.how, How::Unread) << body;
  }
}

TEST(Recheck, WhatAPersonAcceptedIsNoAlarmUntilItChanges) {
  EXPECT_EQ(look(accepted("0.90", "0.77"), {batch("0.77")}).found.how, How::Accepted);
  EXPECT_EQ(look(accepted("0.90", "0.77"), {batch("0.78")}).found.how, How::Differs);
  EXPECT_EQ(look(accepted("0.90", "0.77"), {batch("0.90")}).found.how, How::Same);
}

TEST(Recheck, DifferencesThatNobodyAcceptedAreAnAlarm) {
  Delivered what = accepted("0.90", "0.77");
  what.how = Delivered::How::AsSent;
  EXPECT_EQ(look(what, {batch("0.77")}).found.how, How::Differs);
}

TEST(Recheck, LooksByIdentifierWhereTheReceiptNamesNoPlace) {
  Delivered what = delivered("0.90");
  what.receipt = "{}";
  const Seen seen = look(what, {batch("0.90")});
  EXPECT_EQ(seen.found.how, How::Same);
  EXPECT_NE(seen.requests[0].body.find(R"("url":"Observation?identifier=x")"), std::string::npos)
      << seen.requests[0].body;
}

}  // namespace
}  // namespace footbridge
