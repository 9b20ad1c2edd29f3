#include "assess/flags.hpp"

#include <gtest/gtest.h>

#include <algorithm>

#include "findings_cases.hpp"

namespace footbridge::findings_test {
namespace {

class Flagging : public testing::TestWithParam<Case> {};

TEST_P(Flagging, DoesWhatTheTableSays) { check(GetParam()); }

INSTANTIATE_TEST_SUITE_P(Table, Flagging, testing::ValuesIn(casesOf("flags.tsv")), ByName{});

/// True if a case expects the flag to be raised, or not to be.
bool hasCase(std::string_view rule, bool raised) {
  for (const Case& line : casesOf("flags.tsv")) {
    for (std::string token : split(line.expected, ' ')) {
      const bool silent = token.front() == '!';
      if (silent) token.erase(0, 1);
      if (token.substr(0, 2) == "R:" || token.substr(0, 2) == "L:") token.erase(0, 2);
      if (token == rule && silent != raised) return true;
    }
  }
  return false;
}

TEST(Flagging, HasACaseOnBothSidesOfEveryRule) {
  std::size_t rules = 0;
  for (const Rule& rule : mapping().rules) {
    if (rule.stage != "flag") continue;
    ++rules;
    EXPECT_TRUE(hasCase(rule.id, true)) << rule.id;
    EXPECT_TRUE(hasCase(rule.id, false)) << rule.id;
  }
  EXPECT_GE(rules, 18U);
}

TEST(Flagging, NamesWhatItRestsOn) {
  for (const Case& line : casesOf("flags.tsv")) {
    for (const Flag& flag : findingsOf(line.readings).flags) {
      EXPECT_FALSE(flag.inputs.empty() && flag.indices.empty()) << flag.rule;
    }
  }
}

}  // namespace
}  // namespace footbridge::findings_test
