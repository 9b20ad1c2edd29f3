// What is sent when, by each strategy: golden requests for a bundle of an instrument, a reading
// that names it, and a report that names the reading.

#include "deliver/plan.hpp"

#include <gtest/gtest.h>

namespace footbridge::deliver {
namespace {

using config::Strategy;

constexpr std::string_view kSubject =
    R"("subject":{"reference":"Patient?identifier=urn%3Anhs%7C1"})";

std::string entry(const std::string& name, const std::string& type, const std::string& rest,
                  const std::string& request) {
  return R"({"fullUrl":"urn:uuid:)" + name + R"(","resource":{"resourceType":")" + type + '"' +
         rest + R"(},"request":{)" + request + "}}";
}

std::string create(const std::string& name, const std::string& type, const std::string& rest) {
  return entry(name, type, rest,
               R"("method":"POST","url":")" + type + R"(","ifNoneExist":"identifier=urn%3Aid%7C)" +
                   name + '"');
}

std::string bundleOf(const std::string& entries) {
  return R"({"resourceType":"Bundle","type":"transaction","entry":[)" + entries + "]}";
}

/// The report stands first, so that the order of the bundle is not the one that is needed.
std::string visit() {
  return bundleOf(create("r", "DiagnosticReport", R"(,"result":[{"reference":"urn:uuid:o"}])") +
                  "," +
                  create("o", "Observation",
                         "," + std::string(kSubject) + R"(,"device":{"reference":"urn:uuid:d"})") +
                  "," + create("d", "Device", ""));
}

/// A correction of one reading, bound to the version that was delivered.
std::string correction() {
  return bundleOf(entry("o", "Observation", R"(,"id":"7","status":"corrected")",
                        R"("method":"PUT","url":"Observation/7","ifMatch":"W/\"1\"")"));
}

std::string update() {
  return bundleOf(entry("o", "Observation", R"(,"status":"corrected")",
                        R"("method":"PUT","url":"Observation?identifier=urn%3Aid%7Co")"));
}

std::string shown(const Call& call) {
  std::string out = call.method + " " + call.path;
  if (!call.ifNoneExist.empty()) out += " if-none-exist " + call.ifNoneExist;
  if (!call.ifMatch.empty()) out += " if-match " + call.ifMatch;
  if (call.repeat == Repeat::Never) out += " once";
  return call.body.empty() ? out : out + " " + call.body;
}

Answer answered(long status, std::string body = "", std::string location = "") {
  Answer out;
  out.wire = Wire::Answered;
  out.status = status;
  out.body = std::move(body);
  out.location = std::move(location);
  return out;
}

/// A search's answer: resources of that type, each bearing the identifier urn:id|NAME.
Answer hits(const std::string& type, const std::vector<std::string>& ids, const std::string& token,
            const std::string& system = "urn:id") {
  std::string all;
  for (const std::string& id : ids) {
    all += all.empty() ? "" : ",";
    all += R"({"resource":{"resourceType":")" + type + R"(","id":")" + id +
           R"(","identifier":[{"system":")" + system + R"(","value":")" + token + "\"}]}}";
  }
  return answered(200, R"({"resourceType":"Bundle","type":"searchset","entry":[)" + all + "]}");
}

Answer patient() { return hits("Patient", {"p"}, "1", "urn:nhs"); }

/// Plays answers and compares what is asked before each. The last verdict, if there was one.
std::optional<Verdict> play(Plan& plan,
                            const std::vector<std::pair<std::string, Answer>>& conversation) {
  std::optional<Verdict> out;
  for (const auto& [wanted, answer] : conversation) {
    EXPECT_FALSE(out) << "ended before " << wanted;
    EXPECT_EQ(shown(plan.next()), wanted);
    out = plan.take(answer);
  }
  return out;
}

const std::string kAskPatient = "GET /Patient?identifier=urn%3Anhs%7C1";
const std::string kDevice = R"({"resourceType":"Device"})";
const std::string kReading =
    R"({"resourceType":"Observation","subject":{"reference":"Patient/p"},"device":{"reference":"Device/1"}})";
const std::string kReport =
    R"({"resourceType":"DiagnosticReport","result":[{"reference":"Observation/2"}]})";

TEST(Plan, SingleCreatesInDependencyOrder) {
  Plan plan = *Plan::make(visit(), Strategy::Single);
  const auto verdict =
      play(plan, {{kAskPatient, patient()},
                  {"POST /Device if-none-exist identifier=urn%3Aid%7Cd " + kDevice,
                   answered(201, "", "https://gp.example/fhir/Device/1/_history/1")},
                  {"POST /Observation if-none-exist identifier=urn%3Aid%7Co " + kReading,
                   answered(201, R"({"resourceType":"Observation","id":"2"})")},
                  {"POST /DiagnosticReport if-none-exist identifier=urn%3Aid%7Cr " + kReport,
                   answered(200, "", "DiagnosticReport/3")}});
  ASSERT_TRUE(verdict);
  EXPECT_EQ(verdict->act, Act::Done);
  ASSERT_EQ(verdict->stored.size(), 3U);
  EXPECT_EQ(verdict->stored[0].location, "DiagnosticReport/3");
  EXPECT_EQ(verdict->stored[2].location, "Device/1/_history/1");
  EXPECT_EQ(verdict->created(), 2U);
}

TEST(Plan, BatchesLevelByLevel) {
  const auto batch = [](const std::string& name, const std::string& type, const std::string& body) {
    return R"(POST  {"resourceType":"Bundle","type":"batch","entry":[{"fullUrl":"urn:uuid:)" +
           name + R"(","resource":)" + body + R"(,"request":{"method":"POST","url":")" + type +
           R"(","ifNoneExist":"identifier=urn%3Aid%7C)" + name + R"("}}]})";
  };
  const auto stored = [](const std::string& place) {
    return answered(200, R"({"resourceType":"Bundle","type":"batch-response","entry":[{"response":)"
                         R"({"status":"201 Created","location":")" +
                             place + R"("}}]})");
  };
  Plan plan = *Plan::make(visit(), Strategy::Batch);
  const auto verdict =
      play(plan, {{kAskPatient, patient()},
                  {batch("d", "Device", kDevice), stored("Device/1")},
                  {batch("o", "Observation", kReading), stored("Observation/2/_history/1")},
                  {batch("r", "DiagnosticReport", kReport), stored("DiagnosticReport/3")}});
  ASSERT_TRUE(verdict);
  EXPECT_EQ(verdict->act, Act::Done);
}

TEST(Plan, LooksBeforeItCreates) {
  Plan plan = *Plan::make(visit(), Strategy::Search);
  const auto verdict = play(
      plan, {{kAskPatient, patient()},
             {"GET /Device?identifier=urn%3Aid%7Cd", hits("Device", {"1"}, "d")},
             {"GET /Observation?identifier=urn%3Aid%7Co", hits("Observation", {}, "o")},
             {"POST /Observation once " + kReading, answered(201, "", "Observation/2")},
             {"GET /DiagnosticReport?identifier=urn%3Aid%7Cr", hits("DiagnosticReport", {}, "")},
             {"POST /DiagnosticReport once " + kReport, answered(201, "", "DiagnosticReport/3")}});
  ASSERT_TRUE(verdict);
  EXPECT_EQ(verdict->act, Act::Done);
  EXPECT_EQ(verdict->present(), 1U);
}

TEST(Plan, PutsToIdsOfItsOwn) {
  Plan plan = *Plan::make(visit(), Strategy::ClientIds);
  const auto verdict = play(
      plan, {{kAskPatient, patient()},
             {"GET /Device?identifier=urn%3Aid%7Cd", hits("Device", {"1"}, "d")},
             {"GET /Observation?identifier=urn%3Aid%7Co", hits("Observation", {}, "o")},
             {"PUT /Observation/o {\"id\":\"o\"," + kReading.substr(1),
              answered(201, "", "Observation/o/_history/1")},
             {"GET /DiagnosticReport?identifier=urn%3Aid%7Cr", hits("DiagnosticReport", {}, "")},
             {R"(PUT /DiagnosticReport/r {"id":"r","resourceType":"DiagnosticReport",)"
              R"("result":[{"reference":"Observation/o"}]})",
              answered(201, "", "DiagnosticReport/r")}});
  ASSERT_TRUE(verdict);
  EXPECT_EQ(verdict->act, Act::Done);
}

/// Instruments and patients are shared: they are looked for and never overwritten.
TEST(Plan, UpdatesUnderACondition) {
  Plan plan = *Plan::make(visit(), Strategy::ConditionalUpdate);
  const auto verdict = play(plan, {{kAskPatient, patient()},
                                   {"GET /Device?identifier=urn%3Aid%7Cd", hits("Device", {}, "d")},
                                   {"POST /Device once " + kDevice, answered(201, "", "Device/1")},
                                   {"PUT /Observation?identifier=urn%3Aid%7Co " + kReading,
                                    answered(200, "", "Observation/2")},
                                   {"PUT /DiagnosticReport?identifier=urn%3Aid%7Cr " + kReport,
                                    answered(201, "", "DiagnosticReport/3")}});
  ASSERT_TRUE(verdict);
  EXPECT_EQ(verdict->act, Act::Done);
}

TEST(Plan, LooksForWhatHasNoPlace) {
  Plan plan = *Plan::make(bundleOf(create("o", "Observation", "")), Strategy::Single);
  const std::string post =
      R"(POST /Observation if-none-exist identifier=urn%3Aid%7Co {"resourceType":"Observation"})";
  const std::string search = "GET /Observation?identifier=urn%3Aid%7Co";
  auto verdict = play(plan, {{post, answered(201)}, {search, hits("Observation", {}, "o")}});
  ASSERT_TRUE(verdict);
  EXPECT_EQ(verdict->act, Act::RetryBounded);
  verdict = play(plan, {{post, answered(200)}, {search, hits("Observation", {"2"}, "o")}});
  ASSERT_TRUE(verdict);
  EXPECT_EQ(verdict->act, Act::Done);
  EXPECT_EQ(verdict->stored[0].location, "Observation/2");
}

/// Some servers ignore what they cannot search by and answer with everything.
TEST(Plan, TakesNoOtherResourceForItsOwn) {
  Plan plan = *Plan::make(bundleOf(create("o", "Observation", "")), Strategy::Search);
  EXPECT_FALSE(plan.take(hits("Observation", {"8", "9"}, "other")));
  EXPECT_EQ(plan.next().method, "POST");
  Plan doubled = *Plan::make(bundleOf(create("o", "Observation", "")), Strategy::Search);
  const auto verdict = doubled.take(hits("Observation", {"8", "9"}, "o"));
  ASSERT_TRUE(verdict);
  EXPECT_EQ(verdict->act, Act::Hold);
}

/// Whether a create arrived is not known after a broken connection.
TEST(Plan, LooksAgainAfterAFault) {
  Plan plan = *Plan::make(bundleOf(create("o", "Observation", "")), Strategy::Search);
  EXPECT_FALSE(plan.take(hits("Observation", {}, "o")));
  EXPECT_EQ(plan.next().method, "POST");
  const auto verdict = plan.take(Answer{});
  ASSERT_TRUE(verdict);
  EXPECT_EQ(verdict->act, Act::Retry);
  EXPECT_EQ(plan.next().method, "GET");
}

TEST(Plan, NamesWhatIsStoredWhenItFails) {
  Plan plan =
      *Plan::make(bundleOf(create("a", "Observation", "") + "," + create("b", "Observation", "")),
                  Strategy::Single);
  EXPECT_FALSE(plan.take(answered(201, "", "Observation/1")));
  const auto verdict = plan.take(answered(422, R"({"resourceType":"OperationOutcome"})"));
  ASSERT_TRUE(verdict);
  EXPECT_EQ(verdict->act, Act::Hold) << "a visit that is there in part is not simply refused";
  EXPECT_NE(verdict->reason.find("Of 2 resources 1 of this visit are in the record already: "
                                 "Observation/1."),
            std::string::npos)
      << verdict->reason;
  ASSERT_EQ(verdict->stored.size(), 2U);
  EXPECT_EQ(verdict->stored[1].status, 0);
}

TEST(Plan, RefusesWhatIsRefusedAtOnce) {
  Plan plan = *Plan::make(bundleOf(create("a", "Observation", "")), Strategy::Single);
  const auto verdict = plan.take(answered(422, R"({"resourceType":"OperationOutcome"})"));
  ASSERT_TRUE(verdict);
  EXPECT_EQ(verdict->act, Act::Refuse);
  EXPECT_TRUE(verdict->stored.empty());
}

/// A page of a proxy is no proof.
TEST(Plan, TakesNoPageForSuccess) {
  for (const Strategy each : {Strategy::Single, Strategy::Search, Strategy::ConditionalUpdate}) {
    Plan plan = *Plan::make(bundleOf(create("a", "Observation", "")), each);
    const auto verdict = plan.take(answered(200, "<html>"));
    ASSERT_TRUE(verdict);
    EXPECT_EQ(verdict->act, Act::RetryBounded);
  }
}

TEST(Plan, HoldsWithoutExactlyOnePatient) {
  for (const auto& ids : {std::vector<std::string>{}, std::vector<std::string>{"1", "2"}}) {
    Plan plan = *Plan::make(visit(), Strategy::Batch);
    const auto verdict = plan.take(hits("Patient", ids, "1", "urn:nhs"));
    ASSERT_TRUE(verdict);
    EXPECT_EQ(verdict->act, Act::Hold);
  }
}

TEST(Plan, ReplacesOneVersion) {
  Plan plan = *Plan::make(correction(), Strategy::Single);
  const std::string put =
      "PUT /Observation/7 if-match W/\"1\" "
      R"({"resourceType":"Observation","id":"7","status":"corrected"})";
  const auto verdict =
      play(plan, {{put, answered(412)},
                  {"GET /Observation/7",
                   answered(200, R"({"resourceType":"Observation","id":"7","status":"corrected",)"
                                 R"("meta":{"versionId":"2"}})")}});
  ASSERT_TRUE(verdict);
  EXPECT_EQ(verdict->act, Act::Done) << "it was our own, from before a crash";
  EXPECT_EQ(verdict->stored[0].etag, "W/\"2\"");
}

TEST(Plan, OverwritesNobodyElse) {
  Plan plan = *Plan::make(correction(), Strategy::ClientIds);
  EXPECT_FALSE(plan.take(answered(409)));
  const auto verdict =
      plan.take(answered(200, R"({"resourceType":"Observation","id":"7","status":"final"})"));
  ASSERT_TRUE(verdict);
  EXPECT_EQ(verdict->act, Act::Hold);
  EXPECT_NE(verdict->evidence.find(R"("stored":{"resourceType":"Observation")"), std::string::npos);
}

TEST(Plan, FindsWhatAnUpdateReplaces) {
  Plan plan = *Plan::make(update(), Strategy::ClientIds);
  const auto verdict = play(
      plan, {{"GET /Observation?identifier=urn%3Aid%7Co", hits("Observation", {"7"}, "o")},
             {R"(PUT /Observation/7 {"id":"7","resourceType":"Observation","status":"corrected"})",
              answered(200, "", "Observation/7/_history/2")}});
  ASSERT_TRUE(verdict);
  EXPECT_EQ(verdict->act, Act::Done);
}

TEST(Plan, RefusesACircle) {
  const std::string refers = R"(,"hasMember":[{"reference":"urn:uuid:)";
  EXPECT_FALSE(Plan::make(bundleOf(create("a", "Observation", refers + "b\"}]") + "," +
                                   create("b", "Observation", refers + "a\"}]")),
                          Strategy::Single));
  EXPECT_FALSE(Plan::make("{}", Strategy::Single));
}

/// What a server says where it stored something goes into addresses.
TEST(Parts, TakesNoPlaceThatIsNone) {
  EXPECT_EQ(plainPlace("Observation/12/_history/3"), "Observation/12");
  EXPECT_EQ(plainPlace("Observation/1 2"), "");
  EXPECT_EQ(plainPlace("Observation/a/b"), "");
  EXPECT_EQ(plainPlace("Observation"), "");
  EXPECT_EQ(plainPlace("Observation/" + std::string(65, 'x')), "");
}

}  // namespace
}  // namespace footbridge::deliver
