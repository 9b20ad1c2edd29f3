// What would change a result: the edges are those of the published tables, found by trying.

#include "assess/turning.hpp"

#include <gtest/gtest.h>

#include "findings_cases.hpp"

namespace footbridge::findings_test {
namespace {

struct TurnCase {
  std::string_view name;
  std::string_view readings;
  std::string_view scheme;
  std::string_view ruleSet;
  Item item{};
  std::int32_t steps = 0;  ///< of the turn that has to be there
  std::string_view outcome;
  std::string_view source;
};

constexpr TurnCase kCases[]{
    {"a toe of 34 is 5 above grade 3", "R:toe.pressure=34", "wifi-ischaemia", "", Item::ToePressure,
     -5, "wifi-ischaemia-3", "WIfI: 30 to 39 is grade 2 (Mills 2014, by idwiki.org/WIfI_system)"},
    {"a toe of 34 is 6 under grade 1", "R:toe.pressure=34", "wifi-ischaemia", "", Item::ToePressure,
     6, "wifi-ischaemia-1", "WIfI: 40 to 59 is grade 1 (Mills 2014, by idwiki.org/WIfI_system)"},
    {"a toe of 30 is one above the criterion", "R:toe.pressure=30 R:tcpo2=60", "clti-criterion",
     "esvs-2024", Item::ToePressure, -1, "criterion-met", "below 30: PMC11279131 table 2"},
    {"an index of 0.91 is one millimetre above abnormal",
     "R:arm.systolic=100 L:arm.systolic=100 R:ankle.dorsalis-pedis=91 R:ankle.posterior-tibial=80",
     "abi-band", "acc-aha-2024", Item::AnkleDorsalisPedis, -1, "abi-abnormal",
     "0.90 or less: ACC/AHA 2024 pocket edition, page 15"},
    {"day 14 of rest pain does not turn a pressure criterion",
     "R:toe.pressure=28 R:rest-pain=present "
     "R:rest-pain.days=14",
     "clti-criterion", "esvs-2024", Item::ToePressure, 2, "criterion-cannot-say",
     "below 30: PMC11279131 table 2"},
};

class Turning : public testing::TestWithParam<TurnCase> {};

TEST_P(Turning, IsWhereThePublishedEdgeLies) {
  const TurnCase& line = GetParam();
  const Assessment assessment = assessmentOf(line.readings);
  const Findings findings = findOut(assessment, mapping());
  const auto turns = turningPoints(assessment, findings, mapping());
  ASSERT_EQ(turns.size(), findings.grades.size());
  const Grade* grade = findings.find(line.scheme, Side::Right, line.ruleSet);
  ASSERT_NE(grade, nullptr);
  std::string seen;
  for (const Turn& turn : turns[static_cast<std::size_t>(grade - findings.grades.data())]) {
    seen += std::string(id(turn.reading.item)) + " " + std::to_string(turn.steps) + " " +
            std::string(turn.outcome) + "; ";
    if (turn.reading.item == line.item && turn.steps == line.steps) {
      EXPECT_EQ(turn.outcome, line.outcome) << line.source;
      return;
    }
  }
  ADD_FAILURE() << "no such turn among: " << seen;
}

INSTANTIATE_TEST_SUITE_P(Table, Turning, testing::ValuesIn(kCases));

TEST(Turning, IsTheFirstStepThatChangesAnything) {
  const Assessment assessment = assessmentOf(
      "R:arm.systolic=140 L:arm.systolic=128 R:ankle.dorsalis-pedis=98 R:ankle.posterior-tibial=80 "
      "R:toe.pressure=41");
  const Findings findings = findOut(assessment, mapping());
  const auto turns = turningPoints(assessment, findings, mapping());
  std::size_t checked = 0;
  for (std::size_t i = 0; i < turns.size(); ++i) {
    for (const Turn& turn : turns[i]) {
      Assessment nearer = assessment;
      for (Reading& reading : nearer.readings) {
        if (reading.item != turn.reading.item || reading.side != turn.reading.side) continue;
        reading = turn.reading;
        EXPECT_EQ(findOut(nearer, mapping()).grades[i].outcome, turn.outcome);
        auto& pressure = std::get<Pressure>(reading.content);
        pressure.halves -= Pressure::mmhg(turn.steps > 0 ? 1 : -1).halves;
      }
      EXPECT_EQ(findOut(nearer, mapping()).grades[i].outcome, findings.grades[i].outcome);
      ++checked;
    }
  }
  EXPECT_GT(checked, 20U);
}

TEST(Turning, DoesNotMoveABoundOrAFinding) {
  const Assessment assessment =
      assessmentOf("R:toe.pressure=<30 R:ankle.dorsalis-pedis=incompressible:300");
  const Findings findings = findOut(assessment, mapping());
  for (const auto& turns : turningPoints(assessment, findings, mapping()))
    EXPECT_TRUE(turns.empty());
}

}  // namespace
}  // namespace footbridge::findings_test
