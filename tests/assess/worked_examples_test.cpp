// Published and constructed worked examples, from readings to classes.

#include <gtest/gtest.h>

#include "findings_cases.hpp"

namespace footbridge::findings_test {
namespace {

class WorkedExample : public testing::TestWithParam<Case> {};

TEST_P(WorkedExample, ComesOutAsPublished) { check(GetParam()); }

INSTANTIATE_TEST_SUITE_P(Table, WorkedExample, testing::ValuesIn(casesOf("worked_examples.tsv")),
                         ByName{});

}  // namespace
}  // namespace footbridge::findings_test
