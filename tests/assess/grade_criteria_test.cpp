// Published figures for single measures, stages, texts on compression: the figures of
// tests/cases/criteria.tsv from below to above, and the rules around them.

#include <gtest/gtest.h>

#include <algorithm>
#include <map>
#include <set>

#include "findings_cases.hpp"

namespace footbridge::findings_test {
namespace {

class SingleFigure : public testing::TestWithParam<Case> {};
class ClinicalStage : public testing::TestWithParam<Case> {};
class Compression : public testing::TestWithParam<Case> {};

TEST_P(SingleFigure, IsHeldAsTheTableSays) { check(GetParam()); }
TEST_P(ClinicalStage, IsAsTheTableSays) { check(GetParam()); }
TEST_P(Compression, SaysWhatTheTableSays) { check(GetParam()); }

INSTANTIATE_TEST_SUITE_P(Rules, SingleFigure, testing::ValuesIn(casesOf("criteria_rules.tsv")),
                         ByName{});
INSTANTIATE_TEST_SUITE_P(Table, ClinicalStage, testing::ValuesIn(casesOf("stages.tsv")), ByName{});
INSTANTIATE_TEST_SUITE_P(Table, Compression, testing::ValuesIn(casesOf("compression.tsv")),
                         ByName{});

/// One row of criteria.tsv. The value is in the unit of the printed figure.
struct Line {
  std::string name;
  std::string criterion;
  std::string value;
  std::string outcome;
  std::string source;
};

std::ostream& operator<<(std::ostream& out, const Line& line) { return out << line.name; }

std::vector<Line> lines() {
  std::vector<Line> out;
  for (const auto& row : rowsOf("criteria.tsv", 4)) {
    const std::string sign = row[1].front() == '-' ? " down " : " at ";
    out.push_back({row[0] + sign + row[1], row[0], row[1], row[2], row[3]});
  }
  return out;
}

/// A whole or half number less another, as text.
std::string minus(std::int32_t from, const Decimal& value) {
  const auto tenths = value.scale == 0 ? 10 * value.digits : value.digits;
  return Decimal{10 * from - tenths, 1}.text();
}

std::string hundredthsPlus(std::int32_t from, const Decimal& value) {
  return std::to_string(from + value.digits);
}

constexpr std::string_view kArms =
    "R:arm.systolic=100 L:arm.systolic=100 R:arm.systolic-after-exercise=100 "
    "L:arm.systolic-after-exercise=100 ";
constexpr std::string_view kWound = "R:wound.depth=superficial ";

/// Readings from which the measure has the value.
std::string readingsOf(std::string_view measure, const Decimal& value) {
  const std::string arms{kArms};
  const std::string text = value.text();
  const std::string exercised =
      arms + "R:ankle.dorsalis-pedis=100 R:ankle.posterior-tibial=100 R:exercise.dorsalis-pedis=";
  if (measure == "exercise.abi-fall") return exercised + minus(100, value);
  if (measure == "exercise.ankle-fall") return exercised + minus(100, value);
  if (measure == "abi.after-exercise") return exercised + hundredthsPlus(0, value);
  if (measure == "ankle-after") return exercised + text;
  if (measure == "change.abi") {
    const std::string now = hundredthsPlus(100, value);
    return arms + "R:previous.abi=1.00 R:ankle.dorsalis-pedis=" + now +
           " R:ankle.posterior-tibial=" + now;
  }
  if (measure == "change.toe-pressure") {
    return "R:previous.toe-pressure=100 R:toe.pressure=" + std::to_string(100 + value.digits);
  }
  if (measure == "toe") return std::string{kWound} + "R:toe.pressure=" + text;
  if (measure == "tcpo2") return std::string{kWound} + "R:tcpo2=" + text;
  if (measure == "ankle") {
    return std::string{kWound} + "R:ankle.dorsalis-pedis=" + text +
           " R:ankle.posterior-tibial=" + text;
  }
  const std::string lower = minus(150, value);
  if (measure == "segment.thigh") {
    return "R:segment.high-thigh=150 R:segment.low-thigh=" + lower;
  }
  if (measure == "segment.thigh-calf") return "R:segment.low-thigh=150 R:segment.calf=" + lower;
  return "R:segment.calf=150 R:ankle.dorsalis-pedis=" + lower +
         " R:ankle.posterior-tibial=" + lower;
}

class PublishedFigure : public testing::TestWithParam<Line> {};

TEST_P(PublishedFigure, IsKept) {
  const Line& line = GetParam();
  const Criterion* row = mapping().criterion(line.criterion);
  ASSERT_NE(row, nullptr) << line.criterion;
  const Findings findings = findingsOf(readingsOf(row->measure, *Decimal::parse(line.value)));
  const Grade* grade = findings.find(row->scheme, Side::Right, row->id);
  ASSERT_NE(grade, nullptr);
  EXPECT_EQ(grade->outcome, line.outcome) << line.source << " " << grade->because;
  EXPECT_EQ(grade->rule, row->id);
  EXPECT_FALSE(grade->source.empty());
}

INSTANTIATE_TEST_SUITE_P(Table, PublishedFigure, testing::ValuesIn(lines()), ByName{});

TEST(PublishedFigure, IsTestedFromBelowToAbove) {
  std::map<std::string, std::set<std::int64_t>> tested;
  for (const Line& line : lines()) {
    const Decimal value = *Decimal::parse(line.value);
    if (value.scale != 1) tested[line.criterion].insert(value.digits);
  }
  EXPECT_FALSE(mapping().criteria.empty());
  for (const Criterion& row : mapping().criteria) {
    for (const std::int32_t value : {row.figure - 1, row.figure, row.figure + 1}) {
      EXPECT_TRUE(tested[row.id].contains(value)) << row.id << " " << value;
      if (row.eitherWay) {
        EXPECT_TRUE(tested[row.id].contains(-value)) << row.id << " -" << value;
      }
    }
  }
}

TEST(Compression, IsTestedAtEveryEdge) {
  std::set<std::string> values;
  for (const Case& line : casesOf("compression.tsv")) {
    const Findings findings = findingsOf(line.readings);
    const auto value = findings.find(IndexKind::Abi, Side::Right)->hundredths;
    if (value) values.insert(hundredthsText(*value));
  }
  for (const RuleSet& text : mapping().compression) {
    for (const Band& band : text.abi) {
      if (!band.to) continue;
      for (const std::int32_t value : {*band.to - 1, *band.to, *band.to + 1, *band.to + 2}) {
        EXPECT_TRUE(values.contains(hundredthsText(value))) << hundredthsText(value);
      }
    }
  }
}

/// No order: what is said names a text, its certainty, local policy and the practitioner.
TEST(Compression, AlwaysCarriesItsCautions) {
  std::size_t seen = 0;
  for (const Case& line : casesOf("compression.tsv")) {
    const Findings findings = findingsOf(line.readings);
    const Grade* grade = findings.find("compression-band", Side::Right);
    if (grade == nullptr || !grade->present()) continue;
    ++seen;
    std::set<std::string_view> rules;
    for (const Remark& remark : grade->remarks) rules.insert(remark.rule);
    EXPECT_TRUE(rules.contains("grade-compression-text")) << line.name;
    EXPECT_TRUE(rules.contains("grade-compression-caution")) << line.name;
    EXPECT_TRUE(findings.find(IndexKind::Abi, Side::Right)->present()) << line.name;
  }
  EXPECT_GT(seen, 5U);
}

/// The safety property: whatever is recorded of a leg, no criterion is met or missed by what is
/// not there.
TEST(PublishedFigure, IsNeitherMetNorMissedByAReadingThatIsNotThere) {
  const Findings findings = findingsOf(
      "R:exercise.dorsalis-pedis=absent:not-performed R:previous.abi=absent:unknown "
      "R:segment.calf=no-signal R:wound.depth=superficial R:toe.pressure=absent:error");
  std::size_t seen = 0;
  for (const Grade& grade : findings.grades) {
    if (mapping().criterion(grade.ruleSet) == nullptr) continue;
    ++seen;
    EXPECT_FALSE(grade.present()) << grade.ruleSet;
    EXPECT_FALSE(grade.because.empty()) << grade.ruleSet;
  }
  EXPECT_EQ(seen, mapping().criteria.size());
}

// JFAR 2020, doi 10.1186/s13047-020-00389-w, and Tay 2019 measured people with diabetes.
TEST(SingleFigures, FoundInDiabetesAreNotHeldAgainstWhoHasNone) {
  const std::string visit =
      "R:arm.systolic=100 L:arm.systolic=100 R:ankle.dorsalis-pedis=70 R:previous.abi=0.90 "
      "R:wound.depth=superficial R:toe.pressure=60";
  for (const std::string_view rule :
       {"change-abi-011-diabetes", "healing-toe-over-30", "healing-toe-over-55"}) {
    const std::string_view scheme =
        rule.starts_with("change") ? "change-criterion" : "healing-criterion";
    EXPECT_EQ(findingsOf(visit + " history.diabetes=none").find(scheme, Side::Right, rule),
              nullptr);
    for (const std::string history : {"", " history.diabetes=type-2"}) {
      const auto findings = findingsOf(visit + history);
      ASSERT_NE(findings.find(scheme, Side::Right, rule), nullptr) << rule;
      EXPECT_EQ(findings.find(scheme, Side::Right, rule)->outcome, "criterion-met") << rule;
    }
  }
  EXPECT_NE(findingsOf(visit + " history.diabetes=none")
                .find("change-criterion", Side::Right, "change-abi-015"),
            nullptr);
}

}  // namespace
}  // namespace footbridge::findings_test
