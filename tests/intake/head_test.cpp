// The head as a whole: what is kept of it, and what is said when a member is missing, of another
// type, misspelt or there twice.

#include "intake/head.hpp"

#include <gtest/gtest.h>

#include <algorithm>

#include "intake_cases.hpp"

namespace footbridge::test {
namespace {

TEST(Head, IsKeptAsSent) {
  const intake::Intake intake = readBytes(goodDocument());
  ASSERT_TRUE(intake.issues.empty()) << listed(intake.issues);
  EXPECT_TRUE(intake.headRead);
  const Assessment& head = intake.assessment;
  EXPECT_EQ(head.identifier, (Identifier{"https://clinic.example/assessments", "T-0001"}));
  EXPECT_EQ(head.revision, 1);
  EXPECT_EQ(head.status, Status::Final);
  EXPECT_EQ(text(head.measuredAt), "2026-10-05T10:20:00+01:00");
  ASSERT_TRUE(head.issuedAt);
  EXPECT_EQ(text(*head.issuedAt), "2026-10-05T11:05:00+01:00");
  EXPECT_EQ(head.room, "warm");
  EXPECT_EQ(head.note, "Invented: no real person, place or reading.");
  EXPECT_EQ(head.sourceDigest.size(), 64U);
}

TEST(Head, KeepsThePatient) {
  const Patient patient = readBytes(goodDocument()).assessment.patient;
  EXPECT_EQ(patient, (Patient{{{"https://fhir.nhs.uk/Id/nhs-number", "9992900741"}},
                              "Invented",
                              {"Ada", "May"},
                              parseDate("1951-04-12"),
                              "female"}));
}

TEST(Head, KeepsThoseWhoMeasuredAndWithWhat) {
  const Assessment head = readBytes(goodDocument()).assessment;
  EXPECT_EQ(head.performer, (Party{Identifier{"https://clinic.example/staff", "77"}, "B. Nurse"}));
  EXPECT_EQ(head.performerRole, "nurse");
  EXPECT_EQ(head.organization,
            (Party{Identifier{"https://clinic.example/sites", "1"}, "Foot clinic"}));
  EXPECT_EQ(head.encounter, (Identifier{"https://clinic.example/visits", "V-9"}));
  EXPECT_EQ(head.order, (Identifier{"https://surgery.example/referrals", "R-5"}));
  ASSERT_EQ(head.instruments.size(), 1U);
  EXPECT_EQ(head.instruments[0],
            (Instrument{"doppler", "Invented", "D", "1", parseDate("2026-01-12")}));
}

TEST(Head, WithoutItsOptionalMembersHasRevisionOneAndNothingInvented) {
  const intake::Intake intake = readEdited({{"/revision", ""},
                                            {"/issuedAt", ""},
                                            {"/encounter", ""},
                                            {"/order", ""},
                                            {"/instruments", ""},
                                            {"/patient/family", ""},
                                            {"/patient/birthDate", ""},
                                            {"/patient/gender", ""},
                                            {"/note", ""}});
  ASSERT_TRUE(intake.issues.empty()) << listed(intake.issues);
  const Assessment& head = intake.assessment;
  EXPECT_EQ(head.revision, 1);
  EXPECT_FALSE(head.issuedAt || head.encounter || head.order || head.patient.birthDate);
  EXPECT_TRUE(head.instruments.empty());
  EXPECT_EQ(head.patient.family + head.patient.gender + head.note, "");
}

TEST(Head, TakesTextsWithoutSpaceAtTheirEndsButIdentifiersAsTheyAre) {
  const Assessment head =
      readEdited({{"/patient/family", R"("  Invented ")"}, {"/identifier/value", R"(" T-0001 ")"}})
          .assessment;
  EXPECT_EQ(head.patient.family, "Invented");
  EXPECT_EQ(head.identifier.value, " T-0001 ") << "validation refuses it; nothing is mended";
}

TEST(Head, IsHeldAgainstTheLengthsInCharacters) {
  std::string name;
  for (int i = 0; i < 200; ++i) name += "\xE2\x82\xAC";
  EXPECT_EQ(readEdited({{"/patient/family", '"' + name + '"'}}).assessment.patient.family, name);
}

/// What stands at a pointer, by the first letter of its JSON.
char typeAt(std::string_view pointer) {
  for (const char letter : {'0', '"', '[', '{', 't'}) {
    const std::string json = letter == '0'   ? "7"
                             : letter == '"' ? "\"x\""
                             : letter == '[' ? "[]"
                             : letter == '{' ? "{}"
                                             : "true";
    const Issues issues = readEdited({{pointer, json}}).issues;
    const bool typed = std::any_of(issues.begin(), issues.end(), [&](const Issue& issue) {
      return issue.rule == "intake-type" && issue.place == pointer;
    });
    if (!typed) return letter;
  }
  return ' ';
}

TEST(Head, EveryMemberTakesJustOneType) {
  struct Row {
    std::string_view pointer;
    char type;
  };
  constexpr std::array kRows{Row{"/format", '"'},
                             Row{"/identifier", '{'},
                             Row{"/identifier/system", '"'},
                             Row{"/revision", '0'},
                             Row{"/status", '"'},
                             Row{"/measuredAt", '"'},
                             Row{"/issuedAt", '"'},
                             Row{"/patient", '{'},
                             Row{"/patient/identifiers", '['},
                             Row{"/patient/given", '['},
                             Row{"/patient/family", '"'},
                             Row{"/patient/birthDate", '"'},
                             Row{"/patient/gender", '"'},
                             Row{"/performer", '{'},
                             Row{"/performer/name", '"'},
                             Row{"/performer/role", '"'},
                             Row{"/organization", '{'},
                             Row{"/organization/name", '"'},
                             Row{"/encounter", '{'},
                             Row{"/order", '{'},
                             Row{"/instruments", '['},
                             Row{"/instruments/0", '{'},
                             Row{"/instruments/0/kind", '"'},
                             Row{"/instruments/0/serial", '"'},
                             Row{"/note", '"'}};
  for (const Row& row : kRows) {
    EXPECT_EQ(typeAt(row.pointer), row.type) << row.pointer;
    std::size_t refused = 0;
    for (const std::string json : {"7", "\"x\"", "[]", "{}", "true", "null"}) {
      const Issues issues = readEdited({{row.pointer, json}}).issues;
      refused += std::any_of(issues.begin(), issues.end(), [](const Issue& issue) {
        return issue.rule == "intake-type" || issue.rule == "intake-null";
      });
    }
    EXPECT_EQ(refused, 5U) << row.pointer;
  }
}

TEST(Head, EveryMemberMayBeMissingWithoutHidingAnother) {
  for (const std::string& member : intake::headMembers()) {
    const intake::Intake intake =
        readEdited({{"/" + member, ""}, {"/arms/right/systolic", R"("NP")"}});
    EXPECT_EQ(ofRule(intake.issues, "intake-text-number").size(), 1U) << member;
    EXPECT_LE(intake.issues.size(), 2U) << listed(intake.issues);
  }
}

TEST(Head, WithAnErrorIsNotReadAndReadingsWithAnErrorLeaveItRead) {
  EXPECT_FALSE(readEdited({{"/status", ""}}).headRead);
  EXPECT_TRUE(readEdited({{"/arms/right/systolic", R"("NP")"}}).headRead);
  EXPECT_TRUE(readEdited({{"/unknown", "1"}}).headRead);
}

TEST(Head, NamesTheNearestMember) {
  struct Row {
    std::string_view pointer;
    std::string_view hint;
  };
  constexpr std::array kRows{
      Row{"/measuredat", "Did you mean \"measuredAt\"?"},
      Row{"/identfier", "Did you mean \"identifier\"?"},
      Row{"/organisation", "Did you mean \"organization\"?"},
      Row{"/leg", "Did you mean \"legs\"?"},
      Row{"/patient/birthdate", "Did you mean \"birthDate\"?"},
      Row{"/patient/identifier", "Did you mean \"identifiers\"?"},
      Row{"/legs/right/tcPO2", "Did you mean \"tcpo2\"?"},
      Row{"/legs/right/ankle/dorsalispedis", "Did you mean \"dorsalisPedis\"?"},
      Row{"/arms/right/sistolic", "Did you mean \"systolic\"?"},
      Row{"/weather", "Leave it out; docs/input.md lists what is read here."}};
  for (const Row& row : kRows) {
    const Issues issues = readEdited({{row.pointer, "{}"}}).issues;
    ASSERT_EQ(issues.size(), 1U) << listed(issues);
    EXPECT_EQ(issues[0].mend, row.hint) << row.pointer;
    EXPECT_EQ(issues[0].place, row.pointer);
  }
}

TEST(Head, SaysAllTwelveFaultsAtOnce) {
  const Issues issues = readEdited({{"/format", R"("footbridge-assessment-2")"},
                                    {"/identifier/system", R"("local")"},
                                    {"/revision", "0"},
                                    {"/status", ""},
                                    {"/measuredAt", R"("yesterday")"},
                                    {"/patient/gender", R"("F")"},
                                    {"/patient/given/1", "null"},
                                    {"/instruments/0/kind", R"("stethoscope")"},
                                    {"/colour", "1"},
                                    {"/arms/right/systolic", R"("132/78")"},
                                    {"/legs/right/ankle/dorsalisPedis", "98.25"},
                                    {"/legs/right/toe/pressure", R"({"absent": "dressing"})"}})
                            .issues;
  EXPECT_EQ(issues.size(), 12U) << listed(issues);
  for (const std::string_view rule :
       {"intake-format", "intake-system", "intake-whole", "intake-required", "intake-instant",
        "intake-null", "intake-member-unknown", "intake-two-pressures", "intake-pressure-fraction",
        "intake-absent-reason"}) {
    EXPECT_EQ(ofRule(issues, rule).size(), 1U) << rule;
  }
  EXPECT_EQ(ofRule(issues, "intake-word").size(), 2U);
}

TEST(Head, SaysAllFaultsOfOneReadingAtOnce) {
  const Issues issues =
      readEdited({{"/arms/right/systolic",
                   R"({"value": 98.25, "comparator": "~", "note": "", "colour": 1})"}})
          .issues;
  EXPECT_EQ(issues.size(), 4U) << listed(issues);
}

}  // namespace
}  // namespace footbridge::test
