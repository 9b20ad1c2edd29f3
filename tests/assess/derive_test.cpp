#include "assess/derive.hpp"

#include <gtest/gtest.h>

#include "findings_cases.hpp"

namespace footbridge::findings_test {
namespace {

class Deriving : public testing::TestWithParam<Case> {};

TEST_P(Deriving, GivesWhatTheTableSays) { check(GetParam()); }

INSTANTIATE_TEST_SUITE_P(Table, Deriving, testing::ValuesIn(casesOf("derive.tsv")), ByName{});

TEST(Deriving, GivesEveryKindOnEverySideInOrder) {
  const std::vector<Index> indices = deriveIndices(assessmentOf("R:arm.systolic=140"), mapping());
  ASSERT_EQ(indices.size(), 2 * (kIndexIds.size() - 1) + 1);
  for (std::size_t i = 0; i + 1 < indices.size(); ++i) {
    EXPECT_EQ(indices[i].kind, static_cast<IndexKind>(i / 2));
    EXPECT_EQ(indices[i].side, kSides[i % 2]);
  }
  EXPECT_EQ(indices.back().kind, IndexKind::InterArmDifference);
  EXPECT_EQ(indices.back().side, Side::None);
}

TEST(Deriving, KeepsTheExactRatio) {
  const auto findings = findingsOf(
      "R:arm.systolic=101.5 L:arm.systolic=90 "
      "R:ankle.posterior-tibial=100.5 R:ankle.dorsalis-pedis=90");
  const Index* index = findings.find(IndexKind::Abi, Side::Right);
  EXPECT_EQ(index->ratio, (Ratio{201, 203}));
  EXPECT_EQ(index->hundredths, 99);
}

TEST(Deriving, NamesTheReadingsThatWereUsed) {
  const auto findings = findingsOf(
      "R:arm.systolic=140 L:arm.systolic=128 "
      "R:ankle.dorsalis-pedis=98 R:ankle.posterior-tibial=110");
  const std::vector<ReadingRef> used{{Item::AnkleDorsalisPedis, Side::Right},
                                     {Item::AnklePosteriorTibial, Side::Right},
                                     {Item::ArmSystolic, Side::Right},
                                     {Item::ArmSystolic, Side::Left}};
  EXPECT_EQ(findings.find(IndexKind::Abi, Side::Right)->inputs, used);
  EXPECT_FALSE(findings.find(IndexKind::Abi, Side::Right)->method.empty());
}

// FHIR R4 data-absent-reason: there is a pressure, and nobody knows it.
TEST(Deriving, CodesWhatAnArteryDidNotShowAsUnknown) {
  for (const std::string found : {"incompressible", "no-signal"}) {
    const auto findings =
        findingsOf("R:arm.systolic=140 R:ankle.dorsalis-pedis=" + found +
                   " R:ankle.posterior-tibial=" + found + " R:toe.pressure=no-signal");
    for (const IndexKind kind : {IndexKind::Abi, IndexKind::Tbi}) {
      EXPECT_FALSE(findings.find(kind, Side::Right)->present());
      EXPECT_EQ(findings.find(kind, Side::Right)->reason, AbsentReason::Unknown) << found;
    }
  }
  const auto gone = findingsOf("R:arm.systolic=140 R:toe.pressure=absent:not-applicable");
  EXPECT_EQ(gone.find(IndexKind::Tbi, Side::Right)->reason, AbsentReason::NotApplicable);
}

TEST(Deriving, GivesTheSameTwice) {
  const Assessment assessment = assessmentOf(casesOf("derive.tsv").front().readings);
  EXPECT_EQ(findOut(assessment, mapping()), findOut(assessment, mapping()));
}

/// The integer h with h - 1/2 <= 100 * ankle / arm < h + 1/2, found by looking for it.
std::int64_t slowHundredths(std::int64_t ankle, std::int64_t arm) {
  std::int64_t h = 0;
  while ((2 * h + 1) * arm <= 200 * ankle) ++h;
  return h;
}

TEST(Deriving, RoundsEveryPairOfWholePressuresAsTheSlowWayDoes) {
  constexpr std::int32_t kLowest = 20;
  constexpr std::int32_t kHighest = 300;
  for (std::int32_t ankle = kLowest; ankle <= kHighest; ++ankle) {
    for (std::int32_t arm = kLowest; arm <= kHighest; ++arm) {
      const Ratio ratio{Pressure::mmhg(ankle).halves, Pressure::mmhg(arm).halves};
      ASSERT_EQ(hundredths(ratio), slowHundredths(ankle, arm)) << ankle << " / " << arm;
    }
  }
}

}  // namespace
}  // namespace footbridge::findings_test
