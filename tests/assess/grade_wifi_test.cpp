// WIfI: the published grid cell by cell, and the tables of wound, ischaemia, infection and stage.

#include <gtest/gtest.h>

#include <array>

#include "findings_cases.hpp"

namespace footbridge::findings_test {
namespace {

class Wound : public testing::TestWithParam<Case> {};
class Ischaemia : public testing::TestWithParam<Case> {};
class Infection : public testing::TestWithParam<Case> {};
class Stage : public testing::TestWithParam<Case> {};

TEST_P(Wound, IsGradedAsTheTableSays) { check(GetParam()); }
TEST_P(Ischaemia, IsGradedAsTheTableSays) { check(GetParam()); }
TEST_P(Infection, IsGradedAsTheTableSays) { check(GetParam()); }
TEST_P(Stage, IsLookedUpAsTheTableSays) { check(GetParam()); }

INSTANTIATE_TEST_SUITE_P(Table, Wound, testing::ValuesIn(casesOf("wifi_wound.tsv")), ByName{});
INSTANTIATE_TEST_SUITE_P(Table, Ischaemia, testing::ValuesIn(casesOf("wifi_ischaemia.tsv")),
                         ByName{});
INSTANTIATE_TEST_SUITE_P(Table, Infection, testing::ValuesIn(casesOf("wifi_infection.tsv")),
                         ByName{});
INSTANTIATE_TEST_SUITE_P(Table, Stage, testing::ValuesIn(casesOf("wifi_stage.tsv")), ByName{});

/// Four cells of one of the two grids, foot infection 0 to 3, as letters.
struct Quarter {
  std::string name;
  std::string grid;
  std::string wound;
  std::string ischaemia;
  std::string letters;
};

std::ostream& operator<<(std::ostream& out, const Quarter& quarter) { return out << quarter.name; }

std::vector<Quarter> quarters() {
  std::vector<Quarter> out;
  for (const auto& row : rowsOf("wifi_cells.tsv", 5)) {
    out.push_back({row[0] + " of wound " + row[1] + " and ischaemia " + row[2], row[0], row[1],
                   row[2], row[3]});
  }
  return out;
}

std::string wordOf(char letter) {
  if (letter == 'V') return "very-low";
  if (letter == 'L') return "low";
  return letter == 'M' ? "moderate" : "high";
}

std::string stageOf(char letter) {
  return std::to_string(std::string_view{"VLMH"}.find(letter) + 1);
}

/// The cell by the grades that a clinician states.
Findings findingsAt(const Quarter& quarter, std::size_t infection) {
  return findingsOf("R:stated.wifi-wound=" + quarter.wound + " R:stated.wifi-ischaemia=" +
                    quarter.ischaemia + " R:stated.wifi-infection=" + std::to_string(infection));
}

void checkRisk(const Findings& findings, char letter) {
  EXPECT_EQ(findings.find("wifi-amputation-risk", Side::Right)->outcome,
            "wifi-risk-" + wordOf(letter));
  EXPECT_EQ(findings.find("wifi-stage", Side::Right)->outcome, "wifi-stage-" + stageOf(letter));
}

void checkBenefit(const Findings& findings, char letter) {
  EXPECT_EQ(findings.find("wifi-revascularisation-benefit", Side::Right)->outcome,
            "wifi-benefit-" + wordOf(letter));
}

class Cell : public testing::TestWithParam<Quarter> {};

TEST_P(Cell, IsAsPublished) {
  const Quarter& quarter = GetParam();
  for (std::size_t infection = 0; infection < quarter.letters.size(); ++infection) {
    SCOPED_TRACE(infection);
    const Findings findings = findingsAt(quarter, infection);
    const char letter = quarter.letters[infection];
    quarter.grid == "risk" ? checkRisk(findings, letter) : checkBenefit(findings, letter);
  }
}

INSTANTIATE_TEST_SUITE_P(Table, Cell, testing::ValuesIn(quarters()), ByName{});

TEST(Cell, CountsAreThePublishedOnes) {
  std::array<std::int32_t, 6> stages{};
  for (const WifiCell& cell : mapping().wifi.cells) {
    ++stages[static_cast<std::size_t>(cell.stage)];
  }
  EXPECT_EQ(stages, (std::array<std::int32_t, 6>{0, 6, 10, 16, 32, 0}));
}

TEST(Stage, IsKeptBesideStageFive) {
  const Findings findings = findingsOf(
      "R:stated.wifi-wound=1 R:stated.wifi-ischaemia=2 R:stated.wifi-infection=0 "
      "R:stated.unsalvageable=yes");
  const Grade* grade = findings.find("wifi-stage", Side::Right);
  ASSERT_FALSE(grade->remarks.empty());
  EXPECT_NE(grade->remarks.front().text.find("the grid gives stage 2."), std::string::npos);
}

TEST(Infection, NamesWhatIsMissing) {
  const Findings findings = findingsOf("R:infection=present R:infection.swelling=present");
  const Grade* grade = findings.find("wifi-infection", Side::Right);
  for (const Item item : {Item::InfectionWarmth, Item::InfectionPus, Item::InfectionErythema,
                          Item::InfectionDeep, Item::InfectionTenderness}) {
    EXPECT_NE(grade->because.find(mapping().row(item).label), std::string::npos) << id(item);
  }
  EXPECT_EQ(grade->because.find(mapping().row(Item::InfectionSwelling).label), std::string::npos);
}

}  // namespace
}  // namespace footbridge::findings_test
