// Runs every case of the tables of intake, and watches over the tables themselves: no rule without
// a case that fires it and one that does not, no sentence with a gap, every place in the input.

#include <gtest/gtest.h>

#include <regex>
#include <set>

#include "csv_cases.hpp"
#include "intake_cases.hpp"

namespace footbridge::test {
namespace {

std::vector<Case> allCases() {
  std::vector<Case> all;
  for (const auto table : {headCases, textCases, readingCases, pressureCases}) {
    const std::span<const Case> cases = table();
    all.insert(all.end(), cases.begin(), cases.end());
  }
  return all;
}

/// A whole input that is no document with changes.
struct InputCase {
  std::string_view name;
  std::string_view rule;
  Expect expect;
  std::string_view place;
  std::string bytes;
  std::string_view source;
};

std::ostream& operator<<(std::ostream& out, const InputCase& value) { return out << value.name; }

std::vector<InputCase> inputCases() {
  const std::string good(goodDocument());
  const std::string oneLine = edited(good, {});
  constexpr std::string_view kRfc = "RFC 8259";
  return {
      {"nothing", "intake-nothing", kFires, "", "", "docs/input.md"},
      {"blank lines", "intake-nothing", kFires, "", " \n\t\r\n\n", "docs/input.md"},
      {"a byte-order mark alone", "intake-nothing", kFires, "", "\xEF\xBB\xBF", "docs/input.md"},
      {"an empty list", "intake-nothing", kFires, "", "[]", "docs/input.md"},
      {"one document", "intake-nothing", kSilent, "", good, "docs/input.md"},
      {"a text that is no JSON", "json-syntax", kFires, "", "hello", kRfc},
      {"the half of a document", "json-syntax", kFires, "/format", good.substr(0, 40), kRfc},
      {"a comma too many", "json-syntax", kFires, "/format", R"({"format": "x",})", kRfc},
      {"two documents in one text", "json-syntax", kFires, "", good + good, kRfc},
      {"a name twice", "json-syntax", kFires, "/note",
       oneLine.substr(0, oneLine.size() - 1) + R"(,"note":"again"})", "RFC 8259 section 4"},
      {"a name twice within a leg", "json-syntax", kFires, "/legs/left/toe",
       R"({"legs": {"left": {"toe": {"pressure": 90}, "toe": {"pressure": 40}}}})",
       "RFC 8259 section 4"},
      {"a leading zero", "json-syntax", kFires, "/revision", R"({"revision": 01})", kRfc},
      {"a comment", "json-syntax", kFires, "", R"({ /* none */ })", kRfc},
      {"single quotes", "json-syntax", kFires, "", "{'format': 1}", kRfc},
      {"more than a double holds", "json-syntax", kFires, "/revision", R"({"revision": 1e400})",
       "RFC 8259 section 6: limits on range"},
      {"NaN", "json-syntax", kFires, "/revision", R"({"revision": NaN})", kRfc},
      {"a document after a byte-order mark", "json-syntax", kSilent, "", "\xEF\xBB\xBF" + good,
       "RFC 8259 section 8.1: a reader may ignore it"},
      {"a list with one document", "json-syntax", kSilent, "", "[" + good + "]", "docs/input.md"},
      {"a document in one line", "json-syntax", kSilent, "", oneLine + "\r\n", "docs/input.md"},
      {"a text for a document", "intake-type", kFires, "", R"("footbridge-assessment-1")",
       "docs/input.md"},
      {"a number for a document", "intake-type", kFires, "", "1", "docs/input.md"},
      {"a resource of FHIR", "intake-resource", kFires, "", R"({"resourceType":"Bundle"})",
       "docs/observations.md"},
      {"an assessment", "intake-resource", kSilent, "", good, "docs/input.md"},
  };
}

template <class Line>
void checkIssues(const Line& line, const Issues& issues) {
  if (line.expect == Expect::Silent) {
    EXPECT_TRUE(ofRule(issues, line.rule).empty() && !blocking(issues)) << listed(issues);
    return;
  }
  ASSERT_EQ(issues.size(), 1U) << listed(issues);
  EXPECT_EQ(issues.front().rule, line.rule) << listed(issues);
  EXPECT_EQ(issues.front().place, line.place) << listed(issues);
}

class IntakeCase : public testing::TestWithParam<Case> {};
TEST_P(IntakeCase, Holds) { checkIssues(GetParam(), readEdited(GetParam().edits).issues); }
INSTANTIATE_TEST_SUITE_P(Table, IntakeCase, testing::ValuesIn(allCases()),
                         [](const auto& line) { return testName(line.param.name, line.index); });

class InputCaseOf : public testing::TestWithParam<InputCase> {};
TEST_P(InputCaseOf, Holds) { checkIssues(GetParam(), issuesOfInput(GetParam().bytes)); }
INSTANTIATE_TEST_SUITE_P(Table, InputCaseOf, testing::ValuesIn(inputCases()),
                         [](const auto& line) { return testName(line.param.name, line.index); });

class CsvCaseOf : public testing::TestWithParam<CsvCase> {};
TEST_P(CsvCaseOf, Holds) {
  const CsvCase& line = GetParam();
  checkIssues(line, issuesOfTable(swapped(goodMap(line.layout), line.map),
                                  swapped(goodTable(line.layout), line.table)));
}
INSTANTIATE_TEST_SUITE_P(Table, CsvCaseOf, testing::ValuesIn(csvCases()),
                         [](const auto& line) { return testName(line.param.name, line.index); });

template <class Lines>
void collectRules(const Lines& lines, Expect expect, std::set<std::string>& rules) {
  for (const auto& line : lines) {
    if (line.expect == expect) rules.emplace(line.rule);
  }
}

std::set<std::string> rulesWith(Expect expect) {
  std::set<std::string> rules;
  collectRules(allCases(), expect, rules);
  collectRules(inputCases(), expect, rules);
  collectRules(csvCases(), expect, rules);
  return rules;
}

TEST(IntakeRules, EveryRuleHasACaseThatFiresItAndOneThatDoesNot) {
  const std::set<std::string> fired = rulesWith(Expect::Fires);
  const std::set<std::string> silent = rulesWith(Expect::Silent);
  // What comes with others of its kind or needs a stream of its own: csv_test.cpp fires these.
  const std::set<std::string> elsewhere{"csv-apart", "csv-neighbour", "csv-pipe", "csv-visit-long"};
  std::size_t rules = elsewhere.size();
  for (const Rule& rule : tables().rules) {
    if (rule.stage != "intake" || elsewhere.contains(rule.id)) continue;
    if (rule.id.starts_with("hl7-")) continue;   // hl7/message_test.cpp fires these
    if (rule.id.starts_with("fhir-")) continue;  // tests/fhir fires these
    ++rules;
    EXPECT_TRUE(fired.contains(rule.id)) << rule.id << " is never fired";
    EXPECT_TRUE(silent.contains(rule.id)) << rule.id << " is never silent";
  }
  EXPECT_EQ(rules, 82U);
}

TEST(IntakeRules, EveryCaseSaysWhereItComesFrom) {
  for (const Case& line : allCases()) EXPECT_FALSE(line.source.empty()) << line.name;
  for (const InputCase& line : inputCases()) EXPECT_FALSE(line.source.empty()) << line.name;
  for (const CsvCase& line : csvCases()) EXPECT_FALSE(line.source.empty()) << line.name;
}

TEST(IntakeRules, EveryIssueIsMadeByItsRule) {
  for (const Case& line : allCases()) {
    for (const Issue& issue : readEdited(line.edits).issues) {
      const Rule& rule = tables().rule(issue.rule);
      EXPECT_EQ(issue.severity, rule.severity) << line.name;
      EXPECT_EQ(issue.type, rule.type) << line.name;
      EXPECT_FALSE(issue.mend.empty()) << line.name;
    }
  }
}

/// A name in braces that is left over; the braces of examples in JSON hold quotes.
bool hasGap(const std::string& sentence) {
  for (std::size_t at = sentence.find('{'); at != std::string::npos;
       at = sentence.find('{', at + 1)) {
    if (at + 1 < sentence.size() && sentence[at + 1] != '"') return true;
  }
  return false;
}

TEST(IntakeRules, NoSentenceIsLeftWithAGap) {
  for (const Case& line : allCases()) {
    for (const Issue& issue : readEdited(line.edits).issues) {
      EXPECT_FALSE(hasGap(issue.text)) << issue.text;
      EXPECT_FALSE(hasGap(issue.mend)) << issue.mend;
    }
  }
}

TEST(IntakeRules, NoSentenceOnATableIsLeftWithAGap) {
  // Of names in braces only {side} is meant for the reader: it stands in a map.
  const auto gap = [](const std::string& sentence) {
    return std::regex_search(sentence, std::regex("\\{(?!side\\})[a-z]+\\}"));
  };
  for (const CsvCase& line : csvCases()) {
    if (line.expect == kSilent) continue;
    for (const Issue& issue : issuesOfTable(swapped(goodMap(line.layout), line.map),
                                            swapped(goodTable(line.layout), line.table))) {
      EXPECT_FALSE(gap(issue.text)) << issue.text;
      EXPECT_FALSE(gap(issue.mend)) << issue.mend;
      EXPECT_FALSE(issue.mend.empty()) << issue.rule;
      EXPECT_TRUE(validUtf8(issue.text)) << issue.rule;
    }
  }
}

TEST(IntakeRules, EveryPlaceIsInTheInputOrDirectlyBelowIt) {
  for (const Case& line : allCases()) {
    json::Value root = tree(edited(goodDocument(), line.edits));
    for (const Issue& issue : readEdited(line.edits).issues) {
      EXPECT_TRUE(at(root, issue.place) != nullptr || at(root, parent(issue.place)) != nullptr)
          << line.name << ": " << issue.place;
    }
  }
}

TEST(IntakeRules, TheBytesOfEverySentenceAreUtf8) {
  for (const Case& line : allCases()) {
    for (const Issue& issue : readEdited(line.edits).issues) {
      EXPECT_TRUE(validUtf8(issue.text)) << line.name;
    }
  }
}

}  // namespace
}  // namespace footbridge::test
