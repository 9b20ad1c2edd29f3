#include <gtest/gtest.h>

#include "findings_cases.hpp"

namespace footbridge::findings_test {
namespace {

class Waveform : public testing::TestWithParam<Case> {};

TEST_P(Waveform, IsClassedAsTheTableSays) { check(GetParam()); }

INSTANTIATE_TEST_SUITE_P(Table, Waveform, testing::ValuesIn(casesOf("waveform.tsv")), ByName{});

TEST(Waveform, IsClassedOncePerReading) {
  const Findings findings = findingsOf(
      "R:doppler.femoral=triphasic L:doppler.femoral=monophasic "
      "R:doppler.peroneal=absent:not-performed");
  std::size_t classes = 0;
  for (const Grade& grade : findings.grades) classes += grade.item.has_value() ? 1 : 0;
  EXPECT_EQ(classes, 3U);
}

TEST(Waveform, HasACaseForEveryTerm) {
  for (const WordRow& word : mapping().wordList("doppler")->words) {
    std::size_t cases = 0;
    for (const Case& line : casesOf("waveform.tsv")) {
      const bool ends = line.readings.substr(line.readings.find('=') + 1) == word.word;
      cases += ends ? 1 : 0;
    }
    EXPECT_EQ(cases, 1U) << word.word;
  }
}

}  // namespace
}  // namespace footbridge::findings_test
