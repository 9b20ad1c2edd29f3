// Runs every case of the tables of validate(), and watches over the tables themselves: no rule
// without a case that fires it and one that does not, no sentence with a gap, nothing said of a
// good visit.

#include "assess/validate.hpp"

#include <gtest/gtest.h>

#include <cctype>
#include <set>

#include "validate_cases.hpp"

namespace footbridge::test {
namespace {

std::vector<Case> allCases() {
  std::vector<Case> all;
  for (const auto table :
       {limitCases, entryCases, pressureCases, signalCases, amputationCases, statementCases,
        statedCases, methodCases, identityCases, dateCases, completenessCases}) {
    const std::span<const Case> cases = table();
    all.insert(all.end(), cases.begin(), cases.end());
  }
  return all;
}

Issues issuesOf(const Case& line) {
  Assessment visit = cleanVisit();
  line.change(visit);
  return validate(visit, testNow(), tables());
}

Issues issuesOf(const IndexCase& line) {
  return validateIndices(line.indices, cleanVisit(), tables());
}

template <class Line>
void checkLine(const Line& line) {
  const Issues found = ofRule(issuesOf(line), line.rule);
  if (line.expect == Expect::Silent) {
    EXPECT_TRUE(found.empty()) << found.front().text;
    return;
  }
  ASSERT_FALSE(found.empty()) << line.rule << " did not fire";
  EXPECT_EQ(found.front().place, line.place);
}

/// gtest wants letters, digits and underscores.
std::string testName(std::string_view words, std::size_t index) {
  std::string name{words};
  for (char& c : name) c = std::isalnum(static_cast<unsigned char>(c)) != 0 ? c : '_';
  return name + "_" + std::to_string(index);
}

template <class Line>
std::string nameOf(const testing::TestParamInfo<Line>& info) {
  return testName(info.param.name, info.index);
}

class ValidateCase : public testing::TestWithParam<Case> {};
TEST_P(ValidateCase, Holds) { checkLine(GetParam()); }
INSTANTIATE_TEST_SUITE_P(Table, ValidateCase, testing::ValuesIn(allCases()), nameOf<Case>);

class ValidateIndexCase : public testing::TestWithParam<IndexCase> {};
TEST_P(ValidateIndexCase, Holds) { checkLine(GetParam()); }
INSTANTIATE_TEST_SUITE_P(Table, ValidateIndexCase,
                         testing::ValuesIn(indexCases().begin(), indexCases().end()),
                         nameOf<IndexCase>);

template <class Line>
void collectRules(std::span<const Line> lines, Expect expect, std::set<std::string>& rules) {
  for (const Line& line : lines) {
    if (line.expect == expect) rules.emplace(line.rule);
  }
}

std::set<std::string> rulesWith(Expect expect) {
  std::set<std::string> rules;
  collectRules<Case>(allCases(), expect, rules);
  collectRules<IndexCase>(indexCases(), expect, rules);
  return rules;
}

TEST(ValidateRules, EveryRuleHasACaseThatFiresItAndOneThatDoesNot) {
  const std::set<std::string> fired = rulesWith(Expect::Fires);
  const std::set<std::string> silent = rulesWith(Expect::Silent);
  std::size_t rules = 0;
  for (const Rule& rule : tables().rules) {
    if (rule.stage != "validate") continue;
    ++rules;
    EXPECT_TRUE(fired.contains(rule.id)) << rule.id << " is never fired";
    EXPECT_TRUE(silent.contains(rule.id)) << rule.id << " is never silent";
  }
  EXPECT_EQ(rules, fired.size()) << "a case names a rule of another stage";
}

TEST(ValidateRules, EveryCaseSaysWhereItComesFrom) {
  for (const Case& line : allCases()) EXPECT_FALSE(line.source.empty()) << line.name;
  for (const IndexCase& line : indexCases()) EXPECT_FALSE(line.source.empty()) << line.name;
}

void checkSentences(const Issues& issues) {
  for (const Issue& issue : issues) {
    EXPECT_EQ(issue.text.find_first_of("{}"), std::string::npos) << issue.rule << issue.text;
    EXPECT_EQ(issue.mend.find_first_of("{}"), std::string::npos) << issue.rule << issue.mend;
    EXPECT_FALSE(issue.mend.empty()) << issue.rule;
  }
}

TEST(ValidateRules, NoSentenceIsLeftWithAGap) {
  for (const Case& line : allCases()) checkSentences(issuesOf(line));
  for (const IndexCase& line : indexCases()) checkSentences(issuesOf(line));
}

TEST(ValidateRules, NoSentenceRepeatsWhoThePatientIs) {
  for (const Case& line : allCases()) {
    Assessment visit = cleanVisit();
    line.change(visit);
    for (const Issue& issue : validate(visit, testNow(), tables())) {
      for (const Identifier& identifier : visit.patient.identifiers) {
        EXPECT_EQ(issue.text.find(identifier.value), std::string::npos) << issue.text;
      }
      EXPECT_EQ(issue.text.find("Invented"), std::string::npos) << issue.text;
    }
  }
}

TEST(Validate, HasNothingToSayOfAGoodVisit) {
  const Issues issues = validate(cleanVisit(), testNow(), tables());
  EXPECT_TRUE(issues.empty()) << issues.front().rule << ": " << issues.front().text;
}

TEST(Validate, SaysEverythingAtOnce) {
  Assessment visit = cleanVisit();
  set(visit, Item::ArmSystolic, kRight, mmhg(16));
  set(visit, Item::AnkleDorsalisPedis, kLeft, mmhg(0));
  visit.patient.identifiers[0].value = "9434765918";
  const Issues issues = validate(visit, testNow(), tables());
  EXPECT_EQ(ofRule(issues, "entry-kpa").size(), 1U);
  EXPECT_EQ(ofRule(issues, "entry-zero").size(), 1U);
  EXPECT_EQ(ofRule(issues, "nhs-number-check-digit").size(), 1U);
  EXPECT_TRUE(blocking(issues));
}

}  // namespace
}  // namespace footbridge::test
