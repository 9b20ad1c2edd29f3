// Classes of the indices: the published edges from tests/cases/bands.tsv, and the rules around
// them.

#include <gtest/gtest.h>

#include <algorithm>
#include <set>

#include "assess/derive.hpp"
#include "assess/grade.hpp"
#include "findings_cases.hpp"

namespace footbridge::findings_test {
namespace {

class Classing : public testing::TestWithParam<Case> {};

TEST_P(Classing, GivesWhatTheTableSays) { check(GetParam()); }

INSTANTIATE_TEST_SUITE_P(Table, Classing, testing::ValuesIn(casesOf("bands_rules.tsv")), ByName{});

/// One row of bands.tsv.
struct Edge {
  std::string name;
  std::string set;
  std::string scale;
  std::int32_t value = 0;
  std::string outcome;
  bool remarked = false;
  std::string source;
};

std::ostream& operator<<(std::ostream& out, const Edge& edge) { return out << edge.name; }

std::int32_t hundredthsOf(std::string_view text) {
  return static_cast<std::int32_t>(Decimal::parse(text)->digits);
}

std::vector<Edge> edges() {
  std::vector<Edge> out;
  for (const auto& row : rowsOf("bands.tsv", 6)) {
    out.push_back({row[0] + " " + row[1] + " at " + row[2], row[0], row[1], hundredthsOf(row[2]),
                   row[3], row[4] == "edge", row[5]});
  }
  return out;
}

/// An arm of 200 makes every hundredth a whole pressure.
Findings findingsAt(const Edge& edge) {
  const std::string pressure = std::to_string(2 * edge.value);
  const std::string arms = "R:arm.systolic=200 L:arm.systolic=200 ";
  if (edge.scale == "tbi") return findingsOf(arms + "R:toe.pressure=" + pressure);
  return findingsOf(arms + "R:ankle.dorsalis-pedis=" + pressure +
                    " R:ankle.posterior-tibial=" + pressure);
}

bool remarksEdge(const Grade& grade) {
  for (const Remark& remark : grade.remarks) {
    if (remark.rule == "grade-band-edge") return true;
  }
  return false;
}

class PublishedEdge : public testing::TestWithParam<Edge> {};

TEST_P(PublishedEdge, IsKept) {
  const Edge& edge = GetParam();
  const Findings findings = findingsAt(edge);
  const Grade* grade = findings.find(edge.scale + "-band", Side::Right, edge.set);
  ASSERT_NE(grade, nullptr);
  EXPECT_EQ(grade->outcome, edge.outcome == "-" ? "" : edge.outcome) << edge.source;
  EXPECT_EQ(grade->because.empty(), grade->present());
  EXPECT_EQ(remarksEdge(*grade), edge.remarked);
  EXPECT_FALSE(grade->rule.empty());
  EXPECT_FALSE(grade->source.empty());
  EXPECT_FALSE(grade->certainty.empty());
}

INSTANTIATE_TEST_SUITE_P(Table, PublishedEdge, testing::ValuesIn(edges()), ByName{});

std::set<std::int32_t> testedValues(std::string_view set, std::string_view scale) {
  std::set<std::int32_t> values;
  for (const Edge& edge : edges()) {
    if (edge.set == set && edge.scale == scale) values.insert(edge.value);
  }
  return values;
}

void expectTested(const RuleSet& set, std::string_view scale, const std::vector<Band>& bands) {
  const std::set<std::int32_t> tested = testedValues(set.id, scale);
  for (const Band& band : bands) {
    SCOPED_TRACE(band.id);
    EXPECT_FALSE(tested.empty());
    if (!band.to) continue;
    for (const std::int32_t value : {*band.to - 1, *band.to, *band.to + 1, *band.to + 2}) {
      EXPECT_TRUE(tested.contains(value)) << value;
    }
  }
}

TEST(PublishedEdge, IsTestedFromBelowToAboveInEveryRuleSet) {
  for (const RuleSet& set : mapping().ruleSets) {
    expectTested(set, "abi", set.abi);
    expectTested(set, "tbi", set.tbi);
  }
}

/// The one band that holds the value, looked for in all of them.
const Band* slowBand(const std::vector<Band>& bands, std::int32_t value) {
  const Band* found = nullptr;
  for (const Band& band : bands) {
    const bool belowIt = band.from && value < *band.from;
    const bool aboveIt = band.to && value > *band.to;
    if (belowIt || aboveIt) continue;
    EXPECT_EQ(found, nullptr) << band.id << " overlaps at " << value;
    found = &band;
  }
  EXPECT_NE(found, nullptr) << "gap at " << value;
  return found;
}

void expectBand(const std::vector<Grade>& grades, std::string_view scheme, const RuleSet& set,
                const Band* band) {
  const auto found = std::find_if(grades.begin(), grades.end(), [&](const Grade& grade) {
    return grade.scheme == scheme && grade.ruleSet == set.id && grade.side == Side::Right;
  });
  ASSERT_NE(found, grades.end()) << set.id;
  EXPECT_EQ(found->rule, band->id);
  EXPECT_EQ(found->outcome, band->outcome);
}

std::vector<Index> indicesAt(std::int32_t value) {
  std::vector<Index> indices(2);
  indices[0].kind = IndexKind::Abi;
  indices[1].kind = IndexKind::Tbi;
  for (Index& index : indices) {
    index.side = Side::Right;
    index.hundredths = value;
  }
  return indices;
}

/// 20/300 to 300/20: everything that whole pressures from 20 to 300 can give.
TEST(Classing, AgreesWithTheSlowWayForEveryIndexOfWholePressures) {
  constexpr std::int32_t kLowest = 7;
  constexpr std::int32_t kHighest = 1500;
  const Assessment nothing;
  for (std::int32_t value = kLowest; value <= kHighest; ++value) {
    const std::vector<Grade> grades = gradeFindings(nothing, indicesAt(value), mapping());
    for (const RuleSet& set : mapping().ruleSets) {
      if (!set.abi.empty()) expectBand(grades, "abi-band", set, slowBand(set.abi, value));
      if (!set.tbi.empty()) expectBand(grades, "tbi-band", set, slowBand(set.tbi, value));
    }
  }
}

}  // namespace
}  // namespace footbridge::findings_test
