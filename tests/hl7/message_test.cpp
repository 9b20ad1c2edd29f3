// Messages taken apart, made into assessments, and answered.

#include <gtest/gtest.h>

#include <array>
#include <set>

#include "hl7/acknowledge.hpp"
#include "hl7/group.hpp"
#include "hl7/mllp.hpp"
#include "hl7/text.hpp"
#include "json/value.hpp"

namespace footbridge::hl7 {
namespace {

constexpr std::string_view kMap = R"(format = "footbridge-source-map-1"
base = "https://clinic.example"
[file]
zone = "Europe/London"
[defaults]
organization = { name = "Mereholt Leg and Foot Clinic" }
performer = { name = "Rhona Askerby" }
[hl7.authorities]
"NHS" = "https://fhir.nhs.uk/Id/nhs-number"
[reading.sides]
"RLEG" = "right"
[reading.items]
"DPP^L" = "legs.{side}.ankle.dorsalisPedis"
"SIG^L" = { to = "legs.right.doppler.dorsalisPedis", words = { "M1" = "monophasic" } }
)";

const Tables& tables() {
  static const Tables kTables = *embeddedTables();
  return kTables;
}

Settings mapped() {
  const csv::SourceMap map = *csv::loadSourceMap(kMap, tables());
  return settingsOf(&map, tables());
}

constexpr std::string_view kHeader =
    "MSH|^~\\&|FORM|CLINIC|FB|REC|20261005103000+0100||ORU^R01^ORU_R01|C-1|P|2.5.1||||||UNICODE "
    "UTF-8\r";
constexpr std::string_view kPatient = "PID|1||9992900741^^^NHS^NH||Hollins^Patricia||19580217|F\r";
constexpr std::string_view kOrder = "OBR|1||A-1|LEGS|||202610051020||||||||||||||||||F\r";

std::string order(std::string_view status, std::string_view changed = "") {
  std::string out = "OBR|1||A-1|LEGS|||202610051020|||||||||||||||";
  return (((out += changed) += "|||") += status) + "\r";
}

std::string result(std::string_view type, std::string_view code, std::string_view value,
                   std::string_view status = "F", std::string_view unit = "") {
  std::string out = "OBX|1|";
  for (const std::string_view part : {type, code, std::string_view{}, value, unit}) {
    (out += part) += '|';
  }
  return ((out += "||||") += status) + "\r";
}

std::string message(const std::string& results, std::string_view orderLine = kOrder) {
  return std::string(kHeader) + std::string(kPatient) + std::string(orderLine) + results;
}

constexpr std::string_view kDp = "legs.right.ankle.dorsalisPedis^^99FOOTBRIDGE";

/// The only assessment of a message.
intake::Text only(const std::string& bytes) {
  Reading reading = readingOf(bytes, "m", mapped(), tables());
  EXPECT_EQ(reading.texts.size(), 1U);
  return reading.texts.front();
}

bool says(const Issues& issues, std::string_view rule, std::string_view place) {
  for (const Issue& found : issues) {
    if (found.rule == rule && found.place == place) return true;
  }
  return false;
}

bool holds(const intake::Text& text, std::string_view part) {
  return text.bytes.find(part) != std::string::npos;
}

TEST(Er7, ReadsTheMarksOfTheMessage) {
  Issues issues;
  const Message out = parse("MSH#*%!$#A*B%C\rPID#1\nOBR#2\r\n", "ASCII", tables(), issues);
  ASSERT_EQ(out.segments.size(), 3U);
  EXPECT_EQ(out.marks.component, '*');
  EXPECT_EQ(out.segments[0].field(3), "A*B%C");
  EXPECT_EQ(out.segments[2].field(1), "2");
  EXPECT_TRUE(says(issues, "hl7-terminator", ""));
}

TEST(Er7, UndoesEscapesOnce) {
  const Marks marks;
  EXPECT_EQ(unescaped(R"(\F\\S\\T\\R\\E\F\E\)", marks, Charset::Ascii).text, R"(|^&~\F\)");
  EXPECT_EQ(unescaped(R"(a\.br\b\H\c\N\)", marks, Charset::Ascii).text, "a\nbc");
  EXPECT_EQ(unescaped(R"(\XC3A9\)", marks, Charset::Utf8).text, "\xC3\xA9");
  EXPECT_EQ(unescaped(R"(\XE9\)", marks, Charset::Latin1).text, "\xC3\xA9");
}

TEST(Er7, KeepsEscapesThatItDoesNotKnow) {
  const Marks marks;
  const Unescaped unknown = unescaped(R"(5\Zq\6)", marks, Charset::Ascii);
  EXPECT_EQ(unknown.text, R"(5\Zq\6)");
  EXPECT_EQ(unknown.unknown, R"(\Zq\)");
  EXPECT_EQ(unescaped(R"(C:\temp)", marks, Charset::Ascii).text, R"(C:\temp)");
  EXPECT_EQ(unescaped(R"(\XE9\)", marks, Charset::Utf8).unknown, R"(\XE9\)");
}

TEST(Er7, EscapesWhatItWrites) {
  const Marks marks;
  const std::string text = "a|b^c~d\\e&f";
  EXPECT_EQ(unescaped(escaped(text, marks), marks, Charset::Ascii).text, text);
}

TEST(Oru, MakesAnAssessment) {
  const intake::Text text = only(message(result("NM", kDp, "112", "F", "mm[Hg]^^UCUM") +
                                         result("CWE", "SIG^Signal^L", "M1^one phase^L") +
                                         result("SN", "DPP^Pressure^L", ">^300")));
  EXPECT_TRUE(holds(text, R"("measuredAt":"2026-10-05T10:20:00+01:00")"));
  EXPECT_TRUE(holds(text, R"("system":"https://fhir.nhs.uk/Id/nhs-number","value":"9992900741")"));
  EXPECT_TRUE(holds(text, R"("system":"https://clinic.example/assessments","value":"A-1")"));
  EXPECT_TRUE(holds(text, R"("dorsalisPedis":112)"));
  EXPECT_TRUE(holds(text, R"("dorsalisPedis":"monophasic")"));
  EXPECT_TRUE(holds(text, R"("gender":"female")"));
  // A name without its side is refused where it stands.
  EXPECT_TRUE(says(text.issues, "csv-side", "OBX[3]-3"));
}

TEST(Oru, TakesTheSideFromTheBodySiteOrTheSubId) {
  const std::string bySite = "OBX|1|NM|DPP^^L||98||||||F" + std::string(9, '|') + "RLEG\r";
  EXPECT_TRUE(holds(only(message(bySite)), R"("right":{"ankle":{"dorsalisPedis":98}})"));
  const std::string bySub = "OBX|1|NM|DPP^^L|L|98||||||F\r";
  EXPECT_TRUE(holds(only(message(bySub)), R"("left":{"ankle":{"dorsalisPedis":98}})"));
}

TEST(Oru, DeletedAndMissingResultsAreAbsentWithTheirReason) {
  EXPECT_TRUE(holds(only(message(result("NM", kDp, "", "X"))), R"("absent":"not-performed")"));
  EXPECT_TRUE(holds(only(message(result("NM", kDp, "", "N"))), R"("absent":"not-asked")"));
  const std::string one = result("NM", "arms.right.systolic^^99FOOTBRIDGE", "130");
  const intake::Text deleted =
      only(message(one + result("NM", kDp, "112", "D"), order("C", "20261006090000+0100")));
  EXPECT_TRUE(holds(deleted, R"("absent":"error")"));
  EXPECT_FALSE(holds(deleted, "112"));
  EXPECT_TRUE(holds(deleted, R"("status":"corrected")"));
}

TEST(Oru, CorrectionsGetALaterRevisionTheLaterTheyAre) {
  const auto revision = [](std::string_view at) {
    const intake::Text text = only(message(result("NM", kDp, "110", "C"), order("C", at)));
    const auto value = json::read(text.bytes);
    EXPECT_TRUE(says(text.issues, "hl7-correction-whole", "OBR[1]-25"));
    return std::stol(value->member("revision")->asNumber()->text);
  };
  const long first = revision("20261006090000+0100");
  EXPECT_GT(first, 1);
  EXPECT_EQ(revision("20261006090000+0100"), first);
  EXPECT_EQ(revision("20261006090001+0100"), first + 1);
  EXPECT_EQ(revision("20261006080001+0000"), first + 1);
}

TEST(Oru, WithdrawsWhatWasSentForTheWrongPatient) {
  const intake::Text text = only(message(result("NM", kDp, "112", "W"), order("F")));
  EXPECT_TRUE(holds(text, R"("status":"entered-in-error")"));
  EXPECT_FALSE(holds(text, "dorsalisPedis"));
  EXPECT_TRUE(holds(only(message("", order("X"))), R"("status":"entered-in-error")"));
}

/// An assessment of two orders under one number.
std::string twoOrders(std::string_view first, std::string_view second,
                      std::string_view observed = "202610051020",
                      std::string_view changed = "20261007103000+0100") {
  std::string out = message(result("NM", kDp, "112"), order(first, "20261005103000+0100"));
  (((out += "OBR|2||A-1|LEGS|||") += observed) += std::string(15, '|')) += changed;
  ((out += "|||") += second) += "\r";
  return out + result("NM", "arms.right.systolic^^99FOOTBRIDGE", "130");
}

struct TwoOrders {
  std::string_view first;
  std::string_view second;
  std::string_view status;  ///< of the assessment
};

// docs/hl7v2.md: the most careful of all OBR-25 counts.
constexpr std::array<TwoOrders, 9> kTwoOrders{{{"F", "F", "final"},
                                               {"F", "P", "preliminary"},
                                               {"P", "F", "preliminary"},
                                               {"F", "R", "preliminary"},
                                               {"F", "C", "corrected"},
                                               {"C", "P", "preliminary"},
                                               {"F", "X", "entered-in-error"},
                                               {"X", "F", "entered-in-error"},
                                               {"P", "X", "entered-in-error"}}};

TEST(Oru, TheMostCarefulStateOfAllOrdersCounts) {
  for (const TwoOrders& row : kTwoOrders) {
    const intake::Text text = only(twoOrders(row.first, row.second));
    EXPECT_FALSE(blocking(text.issues)) << row.first << row.second;
    EXPECT_TRUE(holds(text, "\"status\":\"" + std::string(row.status) + '"'))
        << row.first << row.second << text.bytes;
  }
  for (const std::string_view letter : {"A", "I", "O", "S", "Y", "Z", "M", "N", "", "FF"}) {
    EXPECT_TRUE(says(only(twoOrders("F", letter)).issues, "hl7-report-status", "OBR[2]-25"));
    EXPECT_TRUE(says(only(twoOrders(letter, "F")).issues, "hl7-report-status", "OBR[1]-25"));
  }
}

TEST(Oru, TheLatestChangeOfAllOrdersCounts) {
  EXPECT_TRUE(holds(only(twoOrders("F", "F")), R"("issuedAt":"2026-10-07T10:30:00+01:00")"));
  // 7 October 2026 09:30 UTC, in seconds since 2020.
  EXPECT_TRUE(holds(only(twoOrders("C", "F")), R"("revision":213528600)"));
  EXPECT_TRUE(holds(only(twoOrders("C", "F", "202610051020", "20261004103000+0100")),
                    R"("issuedAt":"2026-10-05T10:30:00+01:00")"));
  const intake::Text text = only(twoOrders("C", "F", "202610051020", "soon"));
  EXPECT_TRUE(says(text.issues, "hl7-time", "OBR[2]-22"));
}

/// A reading with its own time.
std::string timed(std::string_view at, std::string_view code = kDp) {
  std::string out = "OBX|1|NM|";
  (out += code) += "||112||||||F|||";
  return (out += at) + "\r";
}

struct Spread {
  std::string bytes;
  std::string_view rule;  ///< "" if nothing is said
  std::string_view place;
};

// docs/hl7v2.md: one assessment is one visit, 12 hours at most (our choice).
std::vector<Spread> spreads() {
  const std::string_view kAbi = "previous.legs.right.abi^^99FOOTBRIDGE";
  return {
      {message(timed("202610051020")), "", ""},
      {message(timed("20261005")), "", ""},
      {message(timed("20261005092000+0000")), "", ""},
      {message(timed("202610051040")), "hl7-times-differ", "OBX[1]-14"},
      {message(timed("202610052220")), "hl7-times-differ", "OBX[1]-14"},
      {message(timed("202610052221")), "hl7-times-apart", "OBX[1]-14"},
      {message(timed("202610061020")), "hl7-times-apart", "OBX[1]-14"},
      {message(timed("202610042219")), "hl7-times-apart", "OBR[1]-7"},
      {message(timed("20261003")), "hl7-times-apart", "OBR[1]-7"},
      {message(timed("2026")), "hl7-time", "OBX[1]-14"},
      {message(timed("20251005", kAbi)), "", ""},
      {twoOrders("F", "F", "202610051100"), "hl7-times-differ", "OBR[2]-7"},
      {twoOrders("F", "F", "202610061020"), "hl7-times-apart", "OBR[2]-7"},
      {twoOrders("F", "X", "202610061020"), "", ""},
  };
}

TEST(Oru, OneAssessmentIsOneVisit) {
  for (const Spread& row : spreads()) {
    const intake::Text text = only(row.bytes);
    if (row.rule.empty()) {
      EXPECT_FALSE(says(text.issues, "hl7-times-differ", "OBX[1]-14")) << row.bytes;
      EXPECT_FALSE(blocking(text.issues)) << row.bytes << text.issues.front().text;
    } else {
      EXPECT_TRUE(says(text.issues, row.rule, row.place)) << row.bytes;
      EXPECT_EQ(blocking(text.issues), row.rule != "hl7-times-differ") << row.bytes;
    }
  }
}

TEST(Oru, AnEarlierFigureDoesNotSayWhenTheVisitWas) {
  const std::string bare = "OBR|1||A-1|LEGS" + std::string(21, '|') + "F\r";
  const intake::Text text = only(message(
      timed("202510051020", "previous.legs.right.abi^^99FOOTBRIDGE") + timed("202610051030"),
      bare));
  EXPECT_TRUE(holds(text, R"("measuredAt":"2026-10-05T10:30:00+01:00")")) << text.bytes;
}

struct Bad {
  std::string bytes;
  std::string_view rule;
  std::string_view place;
};

std::vector<Bad> badMessages() {
  return {
      {message(result("NM", kDp, "112", "R")), "hl7-result-status", "OBX[1]-11"},
      {message(result("NM", kDp, "")), "hl7-value-missing", "OBX[1]-5"},
      {message(result("ED", kDp, "112")), "hl7-value-type", "OBX[1]-2"},
      {message(result("SN", kDp, "^112^-^115")), "hl7-structured", "OBX[1]-5"},
      {message(result("NM", kDp, "112~115")), "hl7-repeated", "OBX[1]-5"},
      {message(result("NM", "QQ^^L", "112")), "csv-item", "OBX[1]-3"},
      {message(result("NM", kDp, "11o")), "csv-number", "OBX[1]-5"},
      {message(result("NM", kDp, "11", "F", "psi")), "csv-unit", "OBX[1]-6"},
      {message(result("NM", kDp, "112"), order("A")), "hl7-report-status", "OBR[1]-25"},
      {message(result("NM", kDp, "112"), order("")), "hl7-report-status", "OBR[1]-25"},
      {message(result("NM", kDp, "112"), order("C", "x")), "hl7-time", "OBR[1]-22"},
      {std::string(kHeader) + std::string(kOrder), "hl7-no-patient", "PID[1]-3"},
      {std::string(kHeader) + std::string(kPatient), "hl7-no-order", "OBR[1]-3"},
      {std::string(kHeader) + "PID|1||7^^^ELSE\r" + std::string(kOrder), "hl7-authority",
       "PID[1]-3"},
      {std::string(kHeader) + "oops\r", "hl7-segment", "segment 2"},
      {message("NTE|1||\xFF\r"), "hl7-encoding", "NTE[1]-3"},
      {message(result("NM", kDp, "112") + "DSC|P-2|F\r"), "hl7-continued", "DSC[1]-1"},
      {"MSH|^~\\&|||||||ORU^R01|1|P|2.5.1||P-2\r" + std::string(kPatient) + std::string(kOrder),
       "hl7-continued", "MSH[1]-14"},
      {message(result("NM", kDp, "11") + "ADD|2|\r"), "hl7-addendum", "ADD[1]-1"},
      {"hello", "hl7-header", "MSH[1]-1"},
      {"MSH|^~\\&|||||||ADT^A01|1|P|2.5.1\r", "hl7-event", "MSH[1]-9"},
      {"MSH|^~\\&|||||||ORU^R01|1|T|2.5.1\r", "hl7-processing", "MSH[1]-11"},
      {"MSH|^~\\&|||||||ORU^R01|1|P|3\r", "hl7-version", "MSH[1]-12"},
      {"MSH|^~\\&|||||||ORU^R01||P|2.5.1\r", "hl7-control-id", "MSH[1]-10"},
      {"MSH|^~\\&|||||||ORU^R01|1|P|2.5.1||||||BIG-5\r", "hl7-charset", "MSH[1]-18"},
  };
}

TEST(Oru, NamesSegmentAndField) {
  for (const Bad& bad : badMessages()) {
    const intake::Text text = only(bad.bytes);
    EXPECT_TRUE(says(text.issues, bad.rule, bad.place)) << bad.rule << " at " << bad.place;
    EXPECT_TRUE(blocking(text.issues));
    ASSERT_TRUE(text.original);
    EXPECT_FALSE(text.original->rows.empty());
  }
}

// Fired by the tests beside this one, each by name.
constexpr std::array<std::string_view, 9> kElsewhere{
    "hl7-terminator",       "hl7-escape",           "hl7-flag",
    "hl7-correction-whole", "hl7-control-id-twice", "hl7-not-stored",
    "hl7-times-differ",     "hl7-times-apart",      "hl7-unread"};

TEST(Oru, EveryRuleOfMessagesIsFired) {
  std::set<std::string_view> fired(kElsewhere.begin(), kElsewhere.end());
  const std::vector<Bad> cases = badMessages();
  for (const Bad& bad : cases) fired.insert(bad.rule);
  for (const Rule& rule : tables().rules) {
    const bool ours = rule.id.starts_with("hl7-");
    EXPECT_TRUE(!ours || fired.contains(rule.id)) << rule.id;
  }
}

TEST(Oru, RemarksOnWhatItDoesNotRead) {
  EXPECT_TRUE(says(only(message("OBX|1|NM|" + std::string(kDp) + "||112|||L|||F\r")).issues,
                   "hl7-flag", "OBX[1]-8"));
  const intake::Text full =
      only(message("OBX|1|NM|" + std::string(kDp) + "||112||90-130||||F||||||MANUAL|CUFF-8\r" +
                   "OBX|2|NM|arms.right.systolic^^99FOOTBRIDGE||130||\"\"||||F||||||MANUAL\r"));
  ASSERT_TRUE(says(full.issues, "hl7-unread", "OBX[1]-7"));
  EXPECT_EQ(full.issues.size(), 1U);
  EXPECT_NE(full.issues.front().text.find("OBX-7, OBX-17, OBX-18."), std::string::npos);
  const intake::Text text = only(message("NTE|1||a\\Q\\b\r"));
  EXPECT_TRUE(says(text.issues, "hl7-escape", "NTE[1]-3"));
  EXPECT_FALSE(blocking(text.issues));
}

TEST(Oru, ManyPatientsAndOrders) {
  const std::string second = "PID|2||9990000018^^^NHS\rORC|RE||A-2\rOBR|1\r" +
                             std::string("OBR|1||A-3||||202610051020") + std::string(18, '|') +
                             "F\r";
  const Reading reading =
      readingOf(message(result("NM", kDp, "112")) + second, "m", mapped(), tables());
  ASSERT_EQ(reading.texts.size(), 3U);
  EXPECT_FALSE(blocking(reading.texts[0].issues));
  EXPECT_TRUE(blocking(reading.texts[1].issues));
  EXPECT_TRUE(holds(reading.texts[2], R"("value":"A-3")"));
  EXPECT_TRUE(holds(reading.texts[2], R"("value":"9990000018")"));
  EXPECT_TRUE(reading.texts[1].original->rows.starts_with("PID|2|"));
}

TEST(Oru, TakesNothingOfAPartOfAMessage) {
  const std::string whole =
      message(result("NM", kDp, "112")) + std::string(kPatient) + "OBR|1||A-3||||202610051020\r";
  EXPECT_EQ(readingOf(whole, "m", mapped(), tables()).texts.size(), 2U);
  const Reading part = readingOf(whole + "DSC|P-2|F\r", "m", mapped(), tables());
  ASSERT_EQ(part.texts.size(), 1U);
  EXPECT_TRUE(part.supported);
  EXPECT_TRUE(part.texts.front().bytes.empty());
  EXPECT_EQ(part.texts.front().original->rows, whole + "DSC|P-2|F\r");
  EXPECT_FALSE(blocking(only(message(result("NM", kDp, "112") + "DSC|\r")).issues));
}

TEST(Oru, FindsMessagesInFilesOfAnyForm) {
  const std::string one = message(result("NM", kDp, "112"));
  EXPECT_EQ(messagesIn(one + one).size(), 2U);
  EXPECT_EQ(messagesIn(framed(one) + framed(one)), (std::vector<std::string>{one, one}));
  EXPECT_EQ(messagesIn("FHS|^~\\&\rBHS|^~\\&\r" + one + one + "BTS|2\rFTS|1\r"),
            (std::vector<std::string>{one, one}));
  EXPECT_EQ(messagesIn(framed(one) + "\x0B" + one).size(), 2U);
}

const Instant kNow = *parseInstant("2026-10-05T10:31:00+01:00");

Reply replyTo(const std::string& bytes, Verdict verdict) {
  return answer(bytes, mapped(), tables(), kNow, [&](const Reading&) { return verdict; });
}

std::string asking(std::string_view accept, std::string_view application) {
  std::string header =
      "MSH|^~\\&|FORM|CLINIC|FB|REC|20261005103000+0100||ORU^R01^ORU_R01|C-1|P|2.5.1|||";
  ((header += accept) += '|') += application;
  return header + "\r" + std::string(kPatient) + std::string(kOrder);
}

TEST(Acknowledge, AnswersInOriginalMode) {
  const Reply reply = replyTo(message(""), {Stored::Now, {}});
  ASSERT_EQ(reply.messages.size(), 1U);
  EXPECT_EQ(reply.code, "AA");
  EXPECT_TRUE(reply.messages[0].starts_with(
      "MSH|^~\\&|FB|REC|FORM|CLINIC|20261005103100+0100||ACK^R01^ACK|"));
  EXPECT_NE(reply.messages[0].find("|P|2.5.1\rMSA|AA|C-1\r"), std::string::npos);
  EXPECT_EQ(replyTo(message(""), {Stored::Before, {}}).code, "AA");
  const Reply unable = replyTo(message(""), {Stored::Unable, {}});
  EXPECT_EQ(unable.code, "AR");
  EXPECT_NE(unable.messages[0].find("could not be stored"), std::string::npos);
  const Reply conflict = replyTo(message(""), {Stored::Conflict, {}});
  EXPECT_EQ(conflict.code, "AE");
  EXPECT_NE(conflict.messages[0].find("the same control id"), std::string::npos);
}

TEST(Acknowledge, SaysWhereAndWhatIsWrong) {
  const Issue wrong{Severity::Error, IssueType::Value, "csv-number",
                    "OBX[3]-5",      "No | number.",   "Mend."};
  const Reply reply = replyTo(message(""), {Stored::Now, {wrong}});
  EXPECT_EQ(reply.code, "AE");
  EXPECT_NE(reply.messages[0].find("ERR||OBX^3^5|102^Data type error^HL70357|E||||OBX[3]-5: No "
                                   "\\F\\ number. Mend.\r"),
            std::string::npos)
      << reply.messages[0];
}

TEST(Acknowledge, RefusesWithoutStoringWhatIsNotForUs) {
  bool stored = false;
  const auto commit = [&stored](const Reading&) {
    stored = true;
    return Verdict{Stored::Now, {}};
  };
  const std::string other = "MSH|^~\\&|A|B|||20261005||ADT^A01|9|P|2.5.1\r";
  const Reply reply = answer(other, mapped(), tables(), kNow, commit);
  EXPECT_EQ(reply.code, "AR");
  EXPECT_NE(reply.messages[0].find("200^Unsupported message type^HL70357"), std::string::npos);
  EXPECT_EQ(answer("garbage", mapped(), tables(), kNow, commit).code, "AR");
  EXPECT_FALSE(stored);
}

TEST(Acknowledge, AnswersAsTheHeaderAsksInEnhancedMode) {
  const Verdict well{Stored::Now, {}};
  const Verdict bad{Stored::Now, {{Severity::Error, IssueType::Value, "r", "OBX[1]-5", "t", "m"}}};
  EXPECT_EQ(replyTo(asking("AL", "NE"), well).messages.size(), 1U);
  EXPECT_NE(replyTo(asking("AL", "NE"), well).messages[0].find("MSA|CA|"), std::string::npos);
  const Reply both = replyTo(asking("AL", "ER"), bad);
  ASSERT_EQ(both.messages.size(), 2U);
  EXPECT_NE(both.messages[0].find("MSA|CA|"), std::string::npos);
  EXPECT_NE(both.messages[1].find("MSA|AE|"), std::string::npos);
  EXPECT_TRUE(replyTo(asking("ER", "NE"), well).messages.empty());
  EXPECT_EQ(replyTo(asking("AL", "AL"), {Stored::Unable, {}}).code, "CR");
  EXPECT_EQ(replyTo(asking("AL", "AL"), {Stored::Conflict, {}}).code, "CE");
}

}  // namespace
}  // namespace footbridge::hl7
