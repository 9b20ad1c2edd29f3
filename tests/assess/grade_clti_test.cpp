// Pressure criteria of limb-threatening ischaemia: published thresholds from tests/cases/clti.tsv,
// one measure at a time with all others clearly unmet, and the rules around them.

#include <gtest/gtest.h>

#include <set>

#include "findings_cases.hpp"

namespace footbridge::findings_test {
namespace {

class Criterion : public testing::TestWithParam<Case> {};

TEST_P(Criterion, GivesWhatTheTableSays) { check(GetParam()); }

INSTANTIATE_TEST_SUITE_P(Table, Criterion, testing::ValuesIn(casesOf("clti_rules.tsv")), ByName{});

/// One row of clti.tsv.
struct Line {
  std::string name;
  std::string definition;
  std::string measure;
  std::string value;
  std::string outcome;
  std::string source;
};

std::ostream& operator<<(std::ostream& out, const Line& line) { return out << line.name; }

std::vector<Line> lines() {
  std::vector<Line> out;
  for (const auto& row : rowsOf("clti.tsv", 5)) {
    out.push_back(
        {row[0] + " " + row[1] + " at " + row[2], row[0], row[1], row[2], row[3], row[4]});
  }
  return out;
}

/// Arms of 60 keep the index high while the ankle is low, arms of 300 the other way round.
std::string ankleReadings(const Line& line) {
  if (line.measure == "abi") {
    const auto pressure = std::to_string(3 * Decimal::parse(line.value)->digits);
    return "R:arm.systolic=300 L:arm.systolic=300 R:ankle.dorsalis-pedis=" + pressure +
           " R:ankle.posterior-tibial=" + pressure;
  }
  const std::string pressure = line.measure == "ankle" ? line.value : "80";
  return "R:arm.systolic=60 L:arm.systolic=60 R:ankle.dorsalis-pedis=" + pressure +
         " R:ankle.posterior-tibial=" + pressure;
}

/// Where the source joins its measures by no word, the others are left out; the category has to be
/// recorded.
std::string aloneReadings(const Line& line) {
  const std::string stated = "R:stated.rutherford=4 ";
  return stated + (line.measure == "toe" ? "R:toe.pressure=" + line.value : ankleReadings(line));
}

std::string readingsOf(const Line& line) {
  if (mapping().definition(line.definition)->join == Join::NotStated) return aloneReadings(line);
  const std::string toe = line.measure == "toe" ? line.value : "90";
  const std::string oxygen = line.measure == "tcpo2" ? line.value : "80";
  return ankleReadings(line) + " R:toe.pressure=" + toe + " R:tcpo2=" + oxygen;
}

class PublishedThreshold : public testing::TestWithParam<Line> {};

TEST_P(PublishedThreshold, IsKept) {
  const Line& line = GetParam();
  const Findings findings = findingsOf(readingsOf(line));
  const Grade* grade =
      findings.find(mapping().definition(line.definition)->scheme, Side::Right, line.definition);
  ASSERT_NE(grade, nullptr);
  EXPECT_EQ(grade->outcome, line.outcome) << line.source;
  EXPECT_EQ(grade->rule, line.definition);
  EXPECT_FALSE(grade->source.empty());
}

INSTANTIATE_TEST_SUITE_P(Table, PublishedThreshold, testing::ValuesIn(lines()), ByName{});

std::set<std::string> testedValues(std::string_view definition, std::string_view measure) {
  std::set<std::string> values;
  for (const Line& line : lines()) {
    if (line.definition == definition && line.measure == measure) values.insert(line.value);
  }
  return values;
}

std::vector<std::int32_t> boundsOf(const Threshold& threshold) {
  if (threshold.below) return {*threshold.below};
  if (threshold.atMost) return {*threshold.atMost};
  return {*threshold.rangeFrom, *threshold.rangeTo};
}

TEST(PublishedThreshold, IsTestedOnBothSidesInEveryDefinition) {
  for (const CltiDefinition& definition : mapping().clti) {
    for (const Threshold& threshold : definition.thresholds) {
      SCOPED_TRACE(definition.id + " " + threshold.measure);
      const auto tested = testedValues(definition.id, threshold.measure);
      for (const std::int32_t bound : boundsOf(threshold)) {
        for (const std::int32_t value : {bound - 1, bound, bound + 1}) {
          const bool index = threshold.measure == "abi";
          EXPECT_TRUE(tested.contains(index ? hundredthsText(value) : std::to_string(value)))
              << value;
        }
      }
    }
  }
}

TEST(Criterion, StandsForEveryDefinitionOnBothSides) {
  const Findings findings = findingsOf("R:toe.pressure=28");
  for (const CltiDefinition& definition : mapping().clti) {
    for (const Side side : kSides) {
      const bool always = definition.scheme == "clti-criterion";
      EXPECT_EQ(findings.find(definition.scheme, side, definition.id) != nullptr, always)
          << definition.id;
    }
  }
}

}  // namespace
}  // namespace footbridge::findings_test
