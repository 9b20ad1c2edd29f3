// Published and constructed worked examples, from readings to classes.

#include <gtest/gtest.h>

#include <set>

#include "findings_cases.hpp"

namespace footbridge::findings_test {
namespace {

class WorkedExample : public testing::TestWithParam<Case> {};

TEST_P(WorkedExample, ComesOutAsPublished) { check(GetParam()); }

INSTANTIATE_TEST_SUITE_P(Table, WorkedExample, testing::ValuesIn(casesOf("worked_examples.tsv")),
                         ByName{});

/// 26 of a survey, 12 of teaching pages, 18 constructed from a cited rule: none is left out.
TEST(WorkedExample, IsThereForEveryNumber) {
  std::set<std::string> seen;
  for (const Case& line : casesOf("worked_examples.tsv")) {
    EXPECT_TRUE(seen.insert(line.name.substr(0, 3)).second) << line.name;
  }
  EXPECT_EQ(seen.size(), 56U);
}

}  // namespace
}  // namespace footbridge::findings_test
