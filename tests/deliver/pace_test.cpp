#include "deliver/pace.hpp"

#include <gtest/gtest.h>

#include <array>

#include "deliver/answer_table.hpp"
#include "deliver/judge.hpp"
#include "deliver/lanes.hpp"
#include "deliver/probe.hpp"

namespace footbridge::deliver {
namespace {

using std::chrono::milliseconds;
using std::chrono::seconds;

const Moment kStart{seconds(1'764'000'000)};

Verdict verdict(Act act, About about) {
  Verdict out;
  out.act = act;
  out.about = about;
  return out;
}

Patience patience() {
  Patience out;
  out.seed = 7;
  out.giveUpAfter = milliseconds(30'000);
  return out;
}

/// The wall clock was a day ahead when the row was written, and is right again.
TEST(Lanes, NoRowWaitsLongerThanTheLongestWait) {
  using std::chrono::system_clock;
  constexpr milliseconds kLongest = kBackOff.back() * 3 / 2;
  struct Case {
    milliseconds ahead;
    milliseconds waits;
  };
  for (const auto& [ahead, waits] :
       {Case{std::chrono::hours(24), kLongest}, Case{kLongest * 2, kLongest},
        Case{milliseconds(5'000), milliseconds(5'000)}, Case{milliseconds(0), milliseconds(0)},
        Case{std::chrono::hours(-24), milliseconds(0)}}) {
    outbox::Row row;
    row.attempts = 3;
    row.due = std::chrono::floor<milliseconds>(system_clock::now()) + ahead;
    const Moment before = Steady::now();
    const Job job = jobOf(row);
    EXPECT_GE(job.due, before + waits - seconds(2)) << ahead.count();
    EXPECT_LE(job.due, Steady::now() + waits) << ahead.count();
  }
}

TEST(Pace, BeginsWithOneAndOpensAfterTheFirstThatArrived) {
  Pace pace(patience(), 8, kStart);
  EXPECT_EQ(pace.allowed(kStart), 1U);
  pace.note(verdict(Act::Done, About::Bundle), std::nullopt, kStart);
  EXPECT_EQ(pace.allowed(kStart), 8U);
}

TEST(Pace, PausesAfterFaultsInARowAndTriesWithOne) {
  Pace pace(patience(), 8, kStart);
  pace.note(verdict(Act::Done, About::Bundle), std::nullopt, kStart);
  for (int i = 0; i < kBreakerFailures; ++i) {
    EXPECT_GT(pace.allowed(kStart), 0U) << i;
    pace.note(verdict(Act::Retry, About::Moment), std::nullopt, kStart);
  }
  EXPECT_EQ(pace.allowed(kStart), 0U);
  EXPECT_EQ(pace.allowed(kStart + milliseconds(499)), 0U);
  EXPECT_EQ(pace.allowed(kStart + milliseconds(1'501)), 1U);
}

TEST(Pace, HoldsTheWholeDestinationBackForRetryAfter) {
  Pace pace(patience(), 8, kStart);
  pace.note(verdict(Act::Retry, About::Moment), seconds(20), kStart);
  EXPECT_EQ(pace.allowed(kStart + seconds(19)), 0U);
  EXPECT_EQ(pace.allowed(kStart + seconds(20)), 1U);
}

TEST(Pace, BackOffFollowsTheTableWithJitterAndStaysAtItsEnd) {
  Pace pace(patience(), 8, kStart);
  for (std::size_t i = 0; i < 12; ++i) {
    const milliseconds step = kBackOff[std::min(i, kBackOff.size() - 1)];
    const milliseconds wait = pace.wait(static_cast<std::int32_t>(i + 1));
    EXPECT_GE(wait, step / 2) << i;
    EXPECT_LE(wait, step * 3 / 2) << i;
  }
}

TEST(Pace, TheSameSeedGivesTheSameJitter) {
  Pace a(patience(), 8, kStart);
  Pace b(patience(), 8, kStart);
  for (std::int32_t i = 1; i < 20; ++i) EXPECT_EQ(a.wait(i), b.wait(i));
}

TEST(Pace, GivesUpWithoutProgressOrHope) {
  Pace pace(patience(), 8, kStart);
  EXPECT_FALSE(pace.exhausted(kStart + seconds(31), kStart)) << "nothing was tried yet";
  pace.note(verdict(Act::Retry, About::Moment), std::nullopt, kStart);
  EXPECT_FALSE(pace.exhausted(kStart + seconds(29), kStart));
  EXPECT_TRUE(pace.exhausted(kStart + seconds(30), kStart));
  EXPECT_TRUE(pace.exhausted(kStart, kStart + seconds(31)));
  pace.note(verdict(Act::Done, About::Bundle), std::nullopt, kStart + seconds(29));
  EXPECT_FALSE(pace.exhausted(kStart + seconds(31), kStart));
}

TEST(Pace, AFaultOfTheDestinationCountsUntilSomethingArrives) {
  Pace pace(patience(), 8, kStart);
  pace.note(verdict(Act::Hold, About::Destination), std::nullopt, kStart);
  pace.note(verdict(Act::Hold, About::Destination), std::nullopt, kStart);
  pace.note(verdict(Act::Done, About::Bundle), std::nullopt, kStart);
  EXPECT_FALSE(pace.faulty());
  for (int i = 0; i < 9; ++i) {
    pace.note(verdict(Act::Hold, About::Unclear), std::nullopt, kStart);
  }
  EXPECT_FALSE(pace.faulty()) << "after a success an unknown patient is no fault of the server";
  for (int i = 0; i < kDestinationFaults; ++i) {
    pace.note(verdict(Act::Hold, About::Destination), std::nullopt, kStart);
  }
  EXPECT_TRUE(pace.faulty());
}

Job job(std::int64_t id, const std::string& lane, const std::string& visit, std::int32_t revision) {
  Job out;
  out.id = id;
  out.lane = lane;
  out.visit = visit;
  out.revision = revision;
  return out;
}

TEST(Lanes, OneOfALaneAtATimeInOrder) {
  Lanes lanes;
  lanes.add(job(1, "p", "v1", 1));
  lanes.add(job(2, "p", "v2", 1));
  lanes.add(job(3, "q", "v3", 1));
  const Job first = *lanes.next(kStart);
  EXPECT_EQ(first.id, 1);
  EXPECT_EQ(lanes.next(kStart)->id, 3);
  EXPECT_FALSE(lanes.next(kStart)) << "the patient's other visit has to wait";
  lanes.done(first);
  EXPECT_EQ(lanes.next(kStart)->id, 2);
  EXPECT_TRUE(lanes.empty());
}

TEST(Lanes, AHigherRevisionNeverGoesFirst) {
  Lanes lanes;
  lanes.add(job(1, "p", "v", 3));
  lanes.add(job(2, "p", "w", 1));
  lanes.add(job(3, "p", "v", 1));
  lanes.add(job(4, "p", "v", 2));
  std::vector<std::int64_t> order;
  while (const std::optional<Job> next = lanes.next(kStart)) {
    order.push_back(next->id);
    lanes.done(*next);
  }
  EXPECT_EQ(order, (std::vector<std::int64_t>{3, 4, 1, 2}));
}

TEST(Lanes, WhatIsTriedAgainKeepsItsPlaceUntilItIsDue) {
  Lanes lanes;
  lanes.add(job(1, "p", "v1", 1));
  lanes.add(job(2, "p", "v2", 1));
  Job first = *lanes.next(kStart);
  first.attempts = 1;
  first.due = kStart + seconds(5);
  lanes.again(std::move(first));
  EXPECT_FALSE(lanes.next(kStart + seconds(4)));
  EXPECT_EQ(lanes.nextDue(), kStart + seconds(5));
  EXPECT_EQ(lanes.next(kStart + seconds(5))->id, 1);
}

TEST(Judge, FindsTypeAndIdInEveryFormOfLocation) {
  const std::vector<std::pair<std::string, std::string>> cases{
      {"Observation/12", "Observation/12"},
      {"Observation/12/_history/3", "Observation/12/_history/3"},
      {"https://a.example/fhir/Observation/12/_history/3", "Observation/12/_history/3"},
      {"http://10.0.0.1:8080/x/y/Observation/12", "Observation/12"},
      {"/fhir/Observation/12", "Observation/12"},
      {"", ""},
      {"Observation", ""},
      {"Observation/", ""},
      {"/12", ""},
      {"https://a.example/fhir/observation/12", ""}};
  for (const auto& [given, wanted] : cases) EXPECT_EQ(relativeLocation(given), wanted) << given;
}

TEST(Judge, TheReceiptKeepsWhatWasStored) {
  Answer answer;
  answer.wire = Wire::Answered;
  answer.status = 200;
  answer.body =
      R"({"resourceType":"Bundle","type":"transaction-response","entry":[)"
      R"({"response":{"status":"201 Created","location":"http://x/Observation/1/_history/1","etag":"W/\"1\""}},)"
      R"({"response":{"status":"200"},"resource":{"resourceType":"Device","id":"9"}}]})";
  const Verdict said = judge(answer, 2, "transaction");
  EXPECT_EQ(said.act, Act::Done);
  EXPECT_EQ(said.created(), 1U);
  EXPECT_EQ(said.present(), 1U);
  EXPECT_EQ(
      receiptOf(said, 200, "r-1"),
      R"({"status":200,"request":"r-1","resources":[{"status":201,"location":"Observation/1/_history/1",)"
      R"("etag":"W/\"1\""},{"status":200,"location":"Device/9"}],"compared":false})");
}

/// What an answer with that list of entries is judged to be, for a bundle of two.
Verdict judged(const std::string& entries) {
  Answer answer;
  answer.wire = Wire::Answered;
  answer.status = 200;
  answer.body = R"({"resourceType":"Bundle","type":"transaction-response")" + entries + "}";
  return judge(answer, 2, "transaction");
}

TEST(Judge, CountsEveryElementOfTheListWhateverItIs) {
  const std::string good = R"({"response":{"status":"201"}})";
  EXPECT_EQ(judged(R"(,"entry":[)" + good + "," + good + "]").act, Act::Done);
  for (const std::string odd :
       {"null", "1", R"("201")", "[]", R"([["201"]])", R"([{"response":{"status":"201"}}])", "{}",
        R"({"response":"201"})", R"({"response":["201"]})", R"({"response":{}})",
        R"({"response":{"status":201}})", R"({"resource":{"status":"201"}})",
        R"({"response":{"outcome":{"status":"201"}}})"}) {
    const Verdict said = judged(R"(,"entry":[)" + good + "," + odd + "]");
    EXPECT_EQ(said.stored.size(), 2U) << odd;
    EXPECT_EQ(said.created(), 1U) << odd;
    EXPECT_NE(said.act, Act::Done) << odd;
  }
}

TEST(Judge, OneAnswerTooFewOrTooManyIsNotDone) {
  const std::string good = R"({"response":{"status":"201"}})";
  EXPECT_EQ(judged(R"(,"entry":[)" + good + "]").act, Act::Hold);
  EXPECT_EQ(judged(R"(,"entry":[)" + good + "," + good + "," + good + "]").act, Act::Hold);
  EXPECT_EQ(judged(R"(,"entry":[])").act, Act::Hold);
}

TEST(Judge, WithoutAListNothingIsKnown) {
  for (const std::string none : {"", R"(,"entry":{})", R"(,"entry":null)", R"(,"entry":"201")",
                                 R"(,"other":[{"response":{"status":"201"}}])"}) {
    EXPECT_EQ(judged(none).act, Act::RetryBounded) << none;
    EXPECT_TRUE(judged(none).stored.empty()) << none;
  }
}

TEST(Judge, NamesWhatFailedInTheWordsOfTheServer) {
  const Verdict said =
      judged(R"(,"entry":[{"response":{"status":"201"}},{"response":{"status":"422",)"
             R"("outcome":{"issue":[{"diagnostics":"no such unit"}]}}}])");
  EXPECT_EQ(said.act, Act::Hold);
  EXPECT_NE(said.reason.find("Entry 1: 422, no such unit."), std::string::npos) << said.reason;
}

TEST(AnswerTable, SaysForEachStatusWhatToDoAndWhereItIsFrom) {
  for (const AnswerRow& row : answerTable()) {
    EXPECT_LE(row.from, row.to);
    EXPECT_FALSE(row.source.empty());
    EXPECT_FALSE(row.certainty.empty());
    EXPECT_FALSE(row.text.empty());
    const bool person = row.act == Act::Hold || row.act == Act::Refuse ||
                        row.act == Act::RetryBounded || row.act == Act::Renew;
    EXPECT_TRUE(!row.mend.empty() || !person) << row.from << ": what is a person to do?";
  }
  for (long status = 0; status < 1'000; ++status) {
    const AnswerRow& row = rowFor(status);
    EXPECT_TRUE(status >= row.from && status <= row.to) << status;
  }
}

std::string statement(const std::string& interactions, const std::string& flags,
                      const std::string& version = "4.0.1") {
  std::string types;
  for (const char* type : {"Observation", "DiagnosticReport", "Provenance", "Device"}) {
    types += types.empty() ? "" : ",";
    types += R"({"type":")" + std::string(type) + R"(","interaction":[{"code":"create"}],)" +
             flags + R"("searchParam":[{"name":"identifier"}]})";
  }
  return R"({"resourceType":"CapabilityStatement","fhirVersion":")" + version +
         R"(","format":["application/fhir+json"],"rest":[{"interaction":[)" + interactions +
         R"(],"resource":[)" + types + "]}]}";
}

struct Chosen {
  std::string interactions;
  std::string flags;
  config::Strategy strategy;
};

TEST(Probe, ChoosesByWhatTheServerSays) {
  using config::Strategy;
  const std::string transaction = R"({"code":"transaction"})";
  const std::string batch = R"({"code":"batch"})";
  const std::string creates = R"("conditionalCreate":true,)";
  const std::string updates = R"("conditionalUpdate":true,)";
  const std::vector<Chosen> all{{transaction + "," + batch, creates, Strategy::Transaction},
                                {batch, creates, Strategy::Batch},
                                {"", creates, Strategy::Single},
                                {transaction, updates, Strategy::ConditionalUpdate},
                                {batch, "", Strategy::Search}};
  for (const Chosen& each : all) {
    const Choice choice =
        choose(*readAbility(statement(each.interactions, each.flags)), Strategy::Auto, "");
    EXPECT_TRUE(choice.possible);
    EXPECT_EQ(choice.strategy, each.strategy) << each.interactions << " " << each.flags;
    ASSERT_EQ(choice.fits.size(), strategyTable().size());
    for (const Fit& fit : choice.fits) EXPECT_FALSE(fit.because.empty());
  }
}

struct Spoken {
  std::string_view bundles;  ///< fhir of the destination
  std::string server;        ///< fhirVersion
  bool possible;
};

// docs/fhir.md: R4B has the bytes of R4; R5 is another shape.
TEST(Probe, ComparesTheReleaseThatIsSentWithTheServers) {
  const std::string full = R"("conditionalCreate":true,"conditionalUpdate":true,)";
  const std::vector<Spoken> all{
      {"", "4.0.1", true},     {"4.0", "4.0.0", true},  {"4.0", "4.3.0", true},
      {"4.3", "4.3.0", true},  {"4.3", "4.0.1", true},  {"4.0", "5.0.0", false},
      {"", "3.0.2", false},    {"", "", false},         {"5.0", "5.0.0", true},
      {"5.0", "4.0.1", false}, {"5.0", "4.3.0", false}, {"4.3", "4.1.0", false}};
  for (const Spoken& each : all) {
    const Ability ability = *readAbility(statement(R"({"code":"transaction"})", full, each.server));
    const Choice choice = choose(ability, config::Strategy::Auto, each.bundles);
    EXPECT_EQ(choice.possible, each.possible) << each.bundles << " to " << each.server;
    EXPECT_EQ(choice.warnings.empty(), each.possible) << each.bundles << " to " << each.server;
  }
}

TEST(Probe, WarnsOfWhatIsLackingThoughItIsSent) {
  const Choice choice =
      choose(*readAbility(statement(R"({"code":"transaction"})", R"("conditionalCreate":true,)")),
             config::Strategy::Auto, "4.0");
  EXPECT_TRUE(choice.possible);
  ASSERT_EQ(choice.warnings.size(), 1U);
  EXPECT_NE(choice.warnings.front().find("conditional updates"), std::string::npos);
  EXPECT_EQ(choice.because.size(), 2U) << "what was chosen is no warning";
}

struct Refusal {
  std::string_view name;
  std::string_view issues;
  std::string_view says;  ///< between "(the server says: " and ")"
};

// FHIR R4 OperationOutcome: severity, code, details.text, diagnostics, expression, location.
constexpr std::array<Refusal, 9> kRefusals{{
    {"an error behind a warning",
     R"({"severity":"warning","diagnostics":"best practice: add a performer"},)"
     R"({"severity":"error","diagnostics":"Unknown code",)"
     R"("expression":["Bundle.entry[14].resource.ofType(Observation).code"]})",
     "Unknown code [Bundle.entry[14].resource.ofType(Observation).code]"},
    {"warnings alone",
     R"({"severity":"warning","diagnostics":"a"},{"severity":"information",)"
     R"("details":{"text":"b"}})",
     "a; b"},
    {"fatal and error",
     R"({"severity":"fatal","diagnostics":"a"},{"severity":"error",)"
     R"("details":{"text":"b"},"diagnostics":"c"})",
     "a; b"},
    {"a code alone", R"({"severity":"error","code":"code-invalid","expression":["Bundle"]})",
     "code-invalid [Bundle]"},
    {"a location", R"({"severity":"error","diagnostics":"a","location":["/f:Bundle/f:entry[2]"]})",
     "a [/f:Bundle/f:entry[2]]"},
    {"expression before location",
     R"({"severity":"error","diagnostics":"a","expression":["Bundle.id"],"location":["Line[1]"]})",
     "a [Bundle.id]"},
    {"an id in a comment",
     R"({"severity":"error","diagnostics":"a",)"
     R"("expression":["Bundle.entry[0].resource/*Patient/9992900741*/.name"]})",
     "a [Bundle.entry[0].resource.name]"},
    {"a value in a path",
     R"({"severity":"error","diagnostics":"a",)"
     R"x("expression":["Patient.name.where(family='Hollins')"]})x",
     "a"},
    {"no severity", R"({"severity":"warning","diagnostics":"a"},{"diagnostics":"b"})", "b"},
}};

TEST(Judge, TellsErrorsFirstAndWhereTheyAre) {
  for (const Refusal& each : kRefusals) {
    Answer answer;
    answer.wire = Wire::Answered;
    answer.status = 422;
    answer.body =
        R"({"resourceType":"OperationOutcome","issue":[)" + std::string(each.issues) + "]}";
    const Verdict verdict = judge(answer, 1, "transaction");
    const std::string wanted = "(the server says: " + std::string(each.says) + ")";
    EXPECT_NE(verdict.reason.find(wanted), std::string::npos) << each.name << verdict.reason;
  }
}

TEST(Probe, TellsWhatAPresetAsksFor) {
  const Ability ability =
      *readAbility(statement(R"({"code":"batch"})", R"("conditionalCreate":true,)"));
  EXPECT_TRUE(lists(ability, "batch"));
  EXPECT_TRUE(lists(ability, "conditionalCreate"));
  EXPECT_TRUE(lists(ability, "search by identifier"));
  EXPECT_FALSE(lists(ability, "transaction"));
  EXPECT_FALSE(lists(ability, "updateCreate"));
  EXPECT_FALSE(lists(ability, "patience")) << "no word of a statement";
}

TEST(Probe, CollectsProfilesWithoutTheirVersions) {
  const Ability ability = *readAbility(statement(
      "", R"("profile":"https://a.example/P|1.0","supportedProfile":["https://a.example/Q"],)"));
  EXPECT_EQ(ability.profiles,
            (std::vector<std::string>{"https://a.example/P", "https://a.example/Q"}));
  EXPECT_TRUE(readAbility(statement("", ""))->profiles.empty());
}

TEST(Probe, SaysWhatIsLacking) {
  const Choice choice = choose(*readAbility(statement("", "")), config::Strategy::Auto, "");
  EXPECT_EQ(choice.fits[0].because,
            "The statement lists no transaction, no conditionalCreate (Observation, "
            "DiagnosticReport, Provenance, Device).");
  EXPECT_FALSE(choice.fits[0].fits);
}

TEST(Probe, RefusesOrIsPinned) {
  using config::Strategy;
  const std::string transaction = R"({"code":"transaction"})";
  const Choice pinned = choose(*readAbility(statement(transaction, "")), Strategy::Transaction, "");
  EXPECT_TRUE(pinned.possible);
  EXPECT_EQ(pinned.strategy, Strategy::Transaction);
  const Choice older =
      choose(*readAbility(statement(transaction, R"("conditionalCreate":true,)", "3.0.2")),
             Strategy::Auto, "");
  EXPECT_FALSE(older.possible);
  EXPECT_NE(impossible(older).find("It speaks FHIR 3.0.2; bundles are FHIR 4.0.1 (R4)."),
            std::string::npos);
  const Choice readOnly =
      choose(*readAbility(R"({"resourceType":"CapabilityStatement","fhirVersion":"4.0.1"})"),
             Strategy::Auto, "");
  EXPECT_FALSE(readOnly.possible);
  EXPECT_NE(impossible(readOnly).find("none of the ways"), std::string::npos);
  EXPECT_FALSE(readAbility("<html>"));
  EXPECT_FALSE(readAbility(R"({"resourceType":"Bundle"})"));
}

}  // namespace
}  // namespace footbridge::deliver
