// What is said: whole sentences, nothing left in braces, and every rule of the three stages is
// written down properly.

#include <gtest/gtest.h>

#include <array>
#include <set>

#include "findings_cases.hpp"

namespace footbridge::findings_test {
namespace {

constexpr std::array kFiles{"derive.tsv",         "bands_rules.tsv",     "clti_rules.tsv",
                            "wifi_ischaemia.tsv", "wifi_wound.tsv",      "wifi_infection.tsv",
                            "wifi_stage.tsv",     "worked_examples.tsv", "flags.tsv",
                            "waveform.tsv",       "stages.tsv",          "compression.tsv",
                            "criteria_rules.tsv"};

std::vector<Findings> allFindings() {
  std::vector<Findings> all;
  for (const char* file : kFiles) {
    for (const Case& line : casesOf(file)) all.push_back(findingsOf(line.readings));
  }
  return all;
}

TEST(Sentences, HaveNoGaps) {
  for (const Findings& findings : allFindings()) {
    for (const std::string& said : sentencesOf(findings)) {
      EXPECT_EQ(said.find('{'), std::string::npos) << said;
      EXPECT_EQ(said.find("  "), std::string::npos) << said;
      EXPECT_EQ(said.find(".."), std::string::npos) << said;
      EXPECT_EQ(said.back(), '.') << said;
    }
  }
}

bool ours(const Rule& rule) {
  return rule.stage == "derive" || rule.stage == "grade" || rule.stage == "flag";
}

void collect(std::set<std::string_view>& said, const std::vector<Remark>& remarks) {
  for (const Remark& remark : remarks) said.insert(remark.rule);
}

std::set<std::string_view> rulesRemarked() {
  std::set<std::string_view> said;
  for (const Findings& findings : allFindings()) {
    for (const Index& index : findings.indices) collect(said, index.remarks);
    for (const Grade& grade : findings.grades) collect(said, grade.remarks);
    for (const Flag& flag : findings.flags) said.insert(flag.rule);
  }
  return said;
}

/// The longest stretch of a rule's text between two arguments.
std::string fixedPart(const Rule& rule) {
  std::string longest;
  std::string current;
  bool inside = false;
  for (const char letter : rule.sentence.text() + "{") {
    if (letter == '{') {
      if (current.size() > longest.size()) longest = current;
      current.clear();
    }
    inside = letter == '{' || (inside && letter != '}');
    if (!inside && letter != '}') current += letter;
  }
  return longest;
}

/// Rules that are remarks are known by id; those that are reasons or parts, by their words.
TEST(Sentences, OfEveryRuleAreSaidInSomeCase) {
  const std::set<std::string_view> remarked = rulesRemarked();
  std::string everything;
  for (const Findings& findings : allFindings()) {
    for (const std::string& said : sentencesOf(findings)) everything += said + "\n";
  }
  for (const Rule& rule : mapping().rules) {
    if (!ours(rule) || remarked.contains(rule.id)) continue;
    EXPECT_NE(everything.find(fixedPart(rule)), std::string::npos) << rule.id;
  }
}

TEST(Sentences, HaveSourceCertaintyAndAWayToMend) {
  for (const Rule& rule : mapping().rules) {
    if (!ours(rule)) continue;
    EXPECT_FALSE(rule.source.text.empty()) << rule.id;
    EXPECT_FALSE(rule.source.certainty.empty()) << rule.id;
    EXPECT_FALSE(rule.mend.text().empty()) << rule.id;
  }
}

TEST(Findings, WithoutAClassAlwaysSayWhy) {
  for (const Findings& findings : allFindings()) {
    for (const Grade& grade : findings.grades) {
      EXPECT_EQ(grade.present(), grade.because.empty()) << grade.scheme;
      EXPECT_FALSE(grade.source.empty()) << grade.scheme;
      EXPECT_FALSE(grade.certainty.empty()) << grade.scheme;
    }
    for (const Index& index : findings.indices) {
      EXPECT_EQ(index.present(), index.because.empty()) << id(index.kind);
      EXPECT_EQ(index.present(), !index.method.empty()) << id(index.kind);
    }
  }
}

/// The safety property: an empty assessment has no class at all.
TEST(Findings, OfNothingAreNothing) {
  const Findings findings = findingsOf("-");
  for (const Index& index : findings.indices) EXPECT_FALSE(index.present()) << id(index.kind);
  for (const Grade& grade : findings.grades) EXPECT_FALSE(grade.present()) << grade.scheme;
  EXPECT_TRUE(findings.flags.empty());
}

}  // namespace
}  // namespace footbridge::findings_test
