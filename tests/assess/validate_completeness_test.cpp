// What is missing for what, and the limits on derived indices.

#include <gtest/gtest.h>

#include "validate_cases.hpp"

namespace footbridge::test {
namespace {

constexpr std::string_view kMissing = "docs/clinical.md, method and reliability flags";
constexpr std::string_view kAtRisk = "docs/clinical.md, reliability flags: diabetes, dialysis";
constexpr std::string_view kIndices = "docs/clinical.md, validation limits";
constexpr std::string_view kOurs = "our choice, mapping/rules.json";

void unsetAnkles(Assessment& visit, Side side) {
  unset(visit, Item::AnkleDorsalisPedis, side);
  unset(visit, Item::AnklePosteriorTibial, side);
}

void unsetArms(Assessment& visit) {
  for (const Side side : kSides) {
    unset(visit, Item::ArmSystolic, side);
    unset(visit, Item::ArmDiastolic, side);
  }
}

Index index(IndexKind kind, Side side, std::int32_t hundredths) {
  Index made;
  made.kind = kind;
  made.side = side;
  made.hundredths = hundredths;
  const Item item = kind == IndexKind::Tbi ? Item::ToePressure : Item::AnkleDorsalisPedis;
  made.inputs = {{Item::ArmSystolic, kRight}, {item, side}};
  return made;
}

Index abi(Side side, std::int32_t hundredths) { return index(IndexKind::Abi, side, hundredths); }
Index tbi(Side side, std::int32_t hundredths) { return index(IndexKind::Tbi, side, hundredths); }

void onlyAbsences(Assessment& visit) {
  visit.readings.clear();
  set(visit, Item::AnkleDorsalisPedis, kRight, absent());
  set(visit, Item::HistoryDiabetes, kNone, said("type-2"));
  set(visit, Item::HistoryAmputation, kRight, said("none"));
}

void declineLeg(Assessment& visit) {
  unsetLeg(visit, kLeft);
  set(visit, Item::AnkleDorsalisPedis, kLeft, absent(AbsentReason::AskedDeclined));
}

void amputateLeg(Assessment& visit) {
  unsetLeg(visit, kLeft);
  set(visit, Item::HistoryAmputation, kLeft, said("above-knee"));
}

constexpr std::string_view kAnklePlace = "/legs/right/ankle/dorsalisPedis";
constexpr std::string_view kToePlace = "/legs/right/toe/pressure";

}  // namespace

constexpr Case kCompletenessCases[]{
    {"nothing at all", "nothing-recorded", kFires, "", [](Assessment& v) { v.readings.clear(); },
     kOurs},
    {"only history", "nothing-recorded", kFires, "",
     [](Assessment& v) {
       v.readings.clear();
       set(v, Item::HistoryDiabetes, kNone, said("type-2"));
       set(v, Item::HistoryAmputation, kRight, said("none"));
     },
     kOurs},
    {"only an absent history", "nothing-recorded", kFires, "",
     [](Assessment& v) {
       v.readings.clear();
       set(v, Item::HistoryDiabetes, kNone, absent());
       set(v, Item::HistoryAmputation, kRight, absent());
     },
     kOurs},
    {"only absences and history", "nothing-recorded", kSilent, "", onlyAbsences, kOurs},
    {"only absences and history are said", "nothing-measured", kFires, "", onlyAbsences, kOurs},
    {"an arm that was declined and nothing else", "nothing-measured", kFires, "",
     [](Assessment& v) {
       v.readings.clear();
       set(v, Item::ArmSystolic, kLeft, absent(AbsentReason::AskedDeclined));
     },
     kOurs},
    {"nothing sent is not nothing measured", "nothing-measured", kSilent, "",
     [](Assessment& v) { v.readings.clear(); }, kOurs},
    {"one pulse beside absences", "nothing-measured", kSilent, "",
     [](Assessment& v) {
       onlyAbsences(v);
       set(v, Item::PulseFemoral, kRight, said("normal"));
     },
     kOurs},
    {"one pulse", "nothing-recorded", kSilent, "",
     [](Assessment& v) {
       v.readings.clear();
       set(v, Item::PulseFemoral, kRight, said("normal"));
     },
     kOurs},
    {"one silent artery", "nothing-recorded", kSilent, "",
     [](Assessment& v) {
       v.readings.clear();
       set(v, Item::AnkleDorsalisPedis, kRight, NoSignal{});
     },
     kOurs},
    {"left leg not read", "leg-without-reading", kFires, "/legs/left",
     [](Assessment& v) { unsetLeg(v, kLeft); }, kOurs},
    {"left leg all absent", "leg-absent", kFires, "/legs/left", declineLeg, kOurs},
    {"left leg all absent is not left out", "leg-without-reading", kSilent, "", declineLeg, kOurs},
    {"left leg left out is not absent", "leg-absent", kSilent, "",
     [](Assessment& v) { unsetLeg(v, kLeft); }, kOurs},
    {"left leg amputated", "leg-amputated", kFires, "/legs/left", amputateLeg, kOurs},
    {"left leg amputated and marked so", "leg-amputated", kFires, "/legs/left",
     [](Assessment& v) {
       amputateLeg(v);
       set(v, Item::ToePressure, kLeft, absent(AbsentReason::NotApplicable));
     },
     kOurs},
    {"left leg amputated is not left out", "leg-without-reading", kSilent, "", amputateLeg, kOurs},
    {"left leg left out is not amputated", "leg-amputated", kSilent, "",
     [](Assessment& v) { unsetLeg(v, kLeft); }, kOurs},
    {"left leg with a pulse", "leg-without-reading", kSilent, "",
     [](Assessment& v) {
       unsetLeg(v, kLeft);
       set(v, Item::PulseFemoral, kLeft, said("normal"));
     },
     kOurs},
    {"no arm", "arm-pressure-missing", kFires, "/arms", unsetArms, kMissing},
    {"both arms absent", "arm-pressure-absent", kFires, "/arms",
     [](Assessment& v) {
       unsetArms(v);
       for (const Side side : kSides) set(v, Item::ArmSystolic, side, absent());
     },
     kMissing},
    {"one arm absent and one left out", "arm-pressure-absent", kSilent, "",
     [](Assessment& v) {
       unsetArms(v);
       set(v, Item::ArmSystolic, kRight, absent());
     },
     kMissing},
    {"one arm absent and the other left out", "arm-pressure-missing", kFires, "/arms",
     [](Assessment& v) {
       unsetArms(v);
       set(v, Item::ArmSystolic, kRight, absent());
     },
     kMissing},
    {"arm after exercise only", "arm-pressure-missing", kFires, "/arms",
     [](Assessment& v) {
       unsetArms(v);
       set(v, Item::ArmSystolicAfterExercise, kRight, mmhg(150));
     },
     kMissing},
    {"one arm", "arm-pressure-missing", kSilent, "",
     [](Assessment& v) { unset(v, Item::ArmSystolic, kLeft); }, kMissing},
    {"no ankle in either leg", "ankle-pressure-none", kFires, "/legs",
     [](Assessment& v) {
       unsetAnkles(v, kRight);
       unsetAnkles(v, kLeft);
     },
     kMissing},
    {"both ankles absent", "ankle-pressure-none-absent", kFires, "/legs",
     [](Assessment& v) {
       for (const Side side : kSides) {
         unsetAnkles(v, side);
         set(v, Item::AnkleDorsalisPedis, side, absent());
       }
     },
     kMissing},
    {"one ankle absent and one left out", "ankle-pressure-none-absent", kSilent, "",
     [](Assessment& v) {
       for (const Side side : kSides) unsetAnkles(v, side);
       set(v, Item::AnkleDorsalisPedis, kLeft, absent());
     },
     kMissing},
    {"an ankle in one leg", "ankle-pressure-none", kSilent, "",
     [](Assessment& v) { unsetAnkles(v, kRight); }, kMissing},
    {"both legs amputated", "ankle-pressure-none", kSilent, "",
     [](Assessment& v) {
       for (const Side side : kSides) {
         unsetLeg(v, side);
         set(v, Item::HistoryAmputation, side, said("above-knee"));
         set(v, Item::PulseFemoral, side, said("normal"));
       }
     },
     kMissing},
    {"no ankle on the right", "ankle-pressure-missing", kFires, "/legs/right",
     [](Assessment& v) { unsetAnkles(v, kRight); }, kMissing},
    {"ankle on the right absent", "ankle-pressure-absent", kFires, "/legs/right",
     [](Assessment& v) {
       unsetAnkles(v, kRight);
       set(v, Item::AnkleDorsalisPedis, kRight, absent(AbsentReason::NotPermitted));
     },
     kMissing},
    {"ankle on the right left out", "ankle-pressure-absent", kSilent, "",
     [](Assessment& v) { unsetAnkles(v, kRight); }, kMissing},
    {"a hard ankle on the right", "ankle-pressure-missing", kSilent, "",
     [](Assessment& v) {
       unsetAnkles(v, kRight);
       set(v, Item::AnkleDorsalisPedis, kRight, hard(300));
     },
     kMissing},
    {"right leg amputated", "ankle-pressure-missing", kSilent, "",
     [](Assessment& v) {
       unsetLeg(v, kRight);
       set(v, Item::HistoryAmputation, kRight, said("below-knee"));
       set(v, Item::PulseFemoral, kRight, said("normal"));
     },
     kMissing},
    {"no toe on the left", "toe-pressure-missing", kFires, "/legs/left",
     [](Assessment& v) { unset(v, Item::ToePressure, kLeft); }, kMissing},
    {"toe on the left", "toe-pressure-missing", kSilent, "", [](Assessment&) {}, kMissing},
    {"forefoot gone", "toe-pressure-missing", kSilent, "",
     [](Assessment& v) {
       unset(v, Item::ToePressure, kLeft);
       set(v, Item::HistoryAmputation, kLeft, said("forefoot"));
     },
     kMissing},
    {"toe on the left absent", "toe-pressure-absent", kFires, "/legs/left",
     [](Assessment& v) { set(v, Item::ToePressure, kLeft, absent(AbsentReason::Error)); },
     kMissing},
    {"toe on the left absent is not left out", "toe-pressure-missing", kSilent, "",
     [](Assessment& v) { set(v, Item::ToePressure, kLeft, absent(AbsentReason::Error)); },
     kMissing},
    {"toe on the left left out", "toe-pressure-absent", kSilent, "",
     [](Assessment& v) { unset(v, Item::ToePressure, kLeft); }, kMissing},
    {"no toe with diabetes", "toe-pressure-missing-counts", kFires, "/legs/left",
     [](Assessment& v) {
       unset(v, Item::ToePressure, kLeft);
       set(v, Item::HistoryDiabetes, kNone, said("type-2"));
     },
     kAtRisk},
    {"no toe with dialysis", "toe-pressure-missing-counts", kFires, "/legs/left",
     [](Assessment& v) {
       unset(v, Item::ToePressure, kLeft);
       set(v, Item::HistoryDialysis, kNone, said("yes"));
     },
     kAtRisk},
    {"no toe with kidney disease", "toe-pressure-missing-counts", kFires, "/legs/left",
     [](Assessment& v) {
       unset(v, Item::ToePressure, kLeft);
       set(v, Item::HistoryKidneyDisease, kNone, said("stage-3"));
     },
     kAtRisk},
    {"toe absent with diabetes", "toe-pressure-absent-counts", kFires, "/legs/left",
     [](Assessment& v) {
       set(v, Item::ToePressure, kLeft, absent());
       set(v, Item::HistoryDiabetes, kNone, said("type-2"));
     },
     kAtRisk},
    {"toe left out with diabetes", "toe-pressure-absent-counts", kSilent, "",
     [](Assessment& v) {
       unset(v, Item::ToePressure, kLeft);
       set(v, Item::HistoryDiabetes, kNone, said("type-2"));
     },
     kAtRisk},
    {"toe absent with a hard ankle", "toe-pressure-absent-counts", kFires, "/legs/left",
     [](Assessment& v) {
       set(v, Item::ToePressure, kLeft, absent());
       set(v, Item::AnkleDorsalisPedis, kLeft, hard(300));
     },
     kAtRisk},
    {"no toe and diabetes not recorded", "toe-pressure-missing-counts", kSilent, "",
     [](Assessment& v) {
       unset(v, Item::ToePressure, kLeft);
       unset(v, Item::HistoryDiabetes, kNone);
     },
     kAtRisk},
    {"no toe, hard ankle on the other leg", "toe-pressure-missing-counts", kSilent, "",
     [](Assessment& v) {
       unset(v, Item::ToePressure, kLeft);
       set(v, Item::AnkleDorsalisPedis, kRight, hard(300));
     },
     kAtRisk},
    {"wound without site", "wound-site-missing", kFires, "/legs/left/wound/site",
     [](Assessment& v) { set(v, Item::WoundDepth, kLeft, said("deep")); }, kMissing},
    {"wound with site", "wound-site-missing", kSilent, "",
     [](Assessment& v) {
       set(v, Item::WoundDepth, kLeft, said("deep"));
       set(v, Item::WoundSite, kLeft, said("heel"));
     },
     kMissing},
    {"wound without days", "wound-days-missing", kFires, "/legs/left/wound/days",
     [](Assessment& v) { set(v, Item::WoundDepth, kLeft, said("deep")); }, kMissing},
    {"no wound, no days", "wound-days-missing", kSilent, "", [](Assessment&) {}, kMissing},
    {"rest pain without days", "rest-pain-days-missing", kFires, "/legs/left/restPain/days",
     [](Assessment& v) { set(v, Item::RestPain, kLeft, said("present")); }, kMissing},
    {"rest pain with days", "rest-pain-days-missing", kSilent, "",
     [](Assessment& v) {
       set(v, Item::RestPain, kLeft, said("present"));
       set(v, Item::RestPainDays, kLeft, number("15"));
     },
     kMissing},
};

std::span<const Case> completenessCases() { return kCompletenessCases; }

const std::vector<IndexCase> kIndexCases{
    {"ABI 0.00", "index-impossible", kFires, kAnklePlace, {abi(kRight, 0)}, kIndices},
    {"ABI 0.01", "index-impossible", kSilent, "", {abi(kRight, 1)}, kIndices},
    {"ABI 3.00", "index-impossible", kSilent, "", {abi(kRight, 300)}, kIndices},
    {"ABI 3.01", "index-impossible", kFires, kAnklePlace, {abi(kRight, 301)}, kIndices},
    {"index of one artery 3.01",
     "index-impossible",
     kFires,
     kAnklePlace,
     {index(IndexKind::AbiDorsalisPedis, kRight, 301)},
     kIndices},
    {"TBI 2.00", "index-impossible", kSilent, "", {tbi(kRight, 200)}, kIndices},
    {"TBI 2.01", "index-impossible", kFires, kToePlace, {tbi(kRight, 201)}, kIndices},
    {"ABI 0.29", "abi-low", kFires, kAnklePlace, {abi(kRight, 29)}, kIndices},
    {"ABI 0.30", "abi-low", kSilent, "", {abi(kRight, 30)}, kIndices},
    {"TBI 0.10", "abi-low", kSilent, "", {tbi(kRight, 10)}, kIndices},
    {"ABI 1.40", "abi-high", kSilent, "", {abi(kRight, 140)}, kIndices},
    {"ABI 1.41", "abi-high", kFires, kAnklePlace, {abi(kRight, 141)}, kIndices},
    {"TBI 1.20", "tbi-high", kSilent, "", {tbi(kRight, 120)}, kIndices},
    {"TBI 1.21", "tbi-high", kFires, kToePlace, {tbi(kRight, 121)}, kIndices},
    {"TBI equals ABI", "tbi-above-abi", kSilent, "", {abi(kRight, 95), tbi(kRight, 95)}, kIndices},
    {"TBI 0.01 above ABI",
     "tbi-above-abi",
     kFires,
     kToePlace,
     {abi(kRight, 95), tbi(kRight, 96)},
     kIndices},
    {"TBI above the other leg's ABI",
     "tbi-above-abi",
     kSilent,
     "",
     {abi(kLeft, 60), tbi(kRight, 96)},
     kIndices},
};

std::span<const IndexCase> indexCases() { return kIndexCases; }

namespace {

TEST(ValidateCompleteness, SaysTheReasonThatWasSent) {
  Assessment visit = cleanVisit();
  set(visit, Item::ToePressure, kLeft, absent(AbsentReason::AskedDeclined));
  const Issues found = ofRule(validate(visit, testNow(), tables()), "toe-pressure-absent");
  ASSERT_EQ(found.size(), 1U);
  EXPECT_NE(found.front().text.find("(declined)"), std::string::npos) << found.front().text;
}

TEST(ValidateCompleteness, AcceptsAVisitOfAbsencesWithOneWarning) {
  Assessment visit = cleanVisit();
  onlyAbsences(visit);
  const Issues found = ofRule(validate(visit, testNow(), tables()), "nothing-measured");
  ASSERT_EQ(found.size(), 1U);
  EXPECT_EQ(found.front().severity, Severity::Warning);
  for (const Issue& issue : validate(visit, testNow(), tables())) {
    EXPECT_NE(issue.severity, Severity::Error) << issue.text;
  }
}

TEST(ValidateCompleteness, SaysOnceThatALegIsMissing) {
  Assessment visit = cleanVisit();
  unsetLeg(visit, kLeft);
  EXPECT_EQ(validate(visit, testNow(), tables()).size(), 1U);
}

TEST(ValidateIndices, LeaveAbsentIndicesAndDifferencesAlone) {
  Index missing;
  missing.kind = IndexKind::Abi;
  missing.side = kRight;
  Index gradient;
  gradient.kind = IndexKind::AnkleToeGradient;
  gradient.side = kRight;
  gradient.difference = Pressure::mmhg(200);
  EXPECT_TRUE(validateIndices({missing, gradient}, cleanVisit(), tables()).empty());
}

TEST(ValidateIndices, PointAtTheLegWhereNoReadingIsNamed) {
  Index bare = abi(kLeft, 301);
  bare.inputs.clear();
  const Issues issues = validateIndices({bare}, cleanVisit(), tables());
  ASSERT_EQ(issues.size(), 1U);
  EXPECT_EQ(issues.front().place, "/legs/left");
}

}  // namespace
}  // namespace footbridge::test
