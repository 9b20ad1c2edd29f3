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

struct BoundCase {
  std::string_view readings;
  std::string_view said;
};

constexpr BoundCase kBounds[]{
    {"R:toe.pressure=<40",
     "The toe pressure is known only as below 40 mmHg, which leaves grade 2 or 3."},
    {"R:toe.pressure=<60",
     "The toe pressure is known only as below 60 mmHg, which leaves grade 1 to 3."},
    {"R:toe.pressure=<=39",
     "The toe pressure is known only as 39 mmHg or less, which leaves grade 2 or 3."},
    {"R:toe.pressure=<39.5",
     "The toe pressure is known only as 39 mmHg or less, which leaves grade 2 or 3."},
    {"R:toe.pressure=<30 R:gangrene=digits",
     "What was found (below 30 mmHg) meets a published figure: toe pressure below 30 mmHg"},
    {"R:toe.pressure=<30 R:gangrene=digits",
     "What was found (below 30 mmHg) does not meet a published figure: toe pressure above 55 mmHg"},
    {"R:tcpo2=>=40", "The TcPO2 is known only as 40 mmHg or more, which leaves grade 0 or 1."},
    {"R:ankle.dorsalis-pedis=<90 R:ankle.posterior-tibial=<60",
     "The ankle pressure is known only as below 90 mmHg, which leaves grade 1 to 3."},
    {"R:ankle.dorsalis-pedis=<90 R:ankle.posterior-tibial=<60",
     "By the lower ankle artery (below 60 mmHg) it would be grade 2 or 3."},
    {"R:arm.systolic=200 L:arm.systolic=198 R:ankle.dorsalis-pedis=75 "
     "R:ankle.posterior-tibial=incompressible:300",
     "Grade 3 by the ankle artery that was read (index 0.38)."},
};

TEST(Sentences, SayABoundAsItWasSentAndTheGradesItLeaves) {
  for (const auto& [readings, wanted] : kBounds) {
    std::string everything;
    for (const std::string& said : sentencesOf(findingsOf(readings))) everything += said + "\n";
    EXPECT_NE(everything.find(wanted), std::string::npos) << wanted;
  }
}

TEST(Sentences, NameThePostureAndItsBiasOnlyWhereTheyApply) {
  const std::string_view kIndex = "R:arm.systolic=140 R:ankle.dorsalis-pedis=98 posture=";
  const auto said = [&](std::string_view posture) {
    std::string everything;
    const Findings findings = findingsOf(std::string{kIndex} + std::string{posture});
    for (const std::string& one : sentencesOf(findings)) everything += one;
    return everything.find("sitting are about 0.35 higher") != std::string::npos;
  };
  EXPECT_TRUE(said("sitting"));
  EXPECT_FALSE(said("recumbent"));
  EXPECT_FALSE(said("other"));
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
