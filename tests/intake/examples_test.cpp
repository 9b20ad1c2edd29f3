// The files of examples/ by pairs: what clinic/ holds is taken, what refused/ holds is refused for
// just the reasons that its readme gives.

#include <gtest/gtest.h>

#include <algorithm>
#include <filesystem>
#include <map>

#include "app/pipeline.hpp"
#include "core/file.hpp"
#include "intake_cases.hpp"

namespace footbridge::test {
namespace {

using Files = std::vector<std::filesystem::path>;

Files filesOf(std::string_view folder) {
  Files out;
  for (const auto& entry :
       std::filesystem::directory_iterator(std::filesystem::path(FOOTBRIDGE_EXAMPLES) / folder)) {
    out.push_back(entry.path());
  }
  std::sort(out.begin(), out.end());
  return out;
}

/// Fixed, so that what is still to come stays so.
app::Outcome outcomeOf(const std::filesystem::path& file) {
  static const app::Pipeline kPipeline(tables(), *parseInstant("2026-11-25T12:00:00+00:00"));
  const Result<std::string> bytes = readFile(file);
  EXPECT_TRUE(bytes) << file;
  return kPipeline.run({file.filename().string(), *bytes, {}});
}

TEST(Examples, OfTheClinicAreReadWithoutAnError) {
  const Files files = filesOf("clinic");
  EXPECT_EQ(files.size(), 27U);
  for (const std::filesystem::path& file : files) {
    const app::Outcome outcome = outcomeOf(file);
    EXPECT_FALSE(outcome.refused()) << file << "\n" << listed(outcome.issues);
    EXPECT_FALSE(outcome.assessment.readings.empty()) << file;
  }
}

TEST(Examples, OfRefusalAreRefusedForTheReasonTheyShow) {
  const std::map<std::string, std::vector<std::string>> expected{
      {"kilopascals-typed-as-mmhg.json", {"entry-kpa"}},
      {"measured-before-birth.json", {"measured-before-birth"}},
      {"nhs-number-check-digit.json", {"nhs-number-check-digit"}},
      {"not-done-typed-as-999.json", {"entry-placeholder"}},
      {"two-pressures-in-one-box.json", {"intake-two-pressures"}}};
  const Files files = filesOf("refused");
  EXPECT_EQ(files.size(), expected.size());
  for (const std::filesystem::path& file : files) {
    const app::Outcome outcome = outcomeOf(file);
    std::vector<std::string> rules;
    for (const Issue& issue : outcome.issues) {
      if (issue.severity >= Severity::Error) rules.push_back(issue.rule);
    }
    rules.erase(std::unique(rules.begin(), rules.end()), rules.end());
    const auto row = expected.find(file.filename().string());
    ASSERT_NE(row, expected.end()) << file;
    EXPECT_EQ(rules, row->second) << file << "\n" << listed(outcome.issues);
  }
}

TEST(Examples, PointToWhatStandsInThem) {
  for (const std::string_view folder : {"clinic", "refused"}) {
    for (const std::filesystem::path& file : filesOf(folder)) {
      json::Value root = tree(*readFile(file));
      for (const Issue& issue : outcomeOf(file).issues) {
        // A remark on what was not sent points to where it would stand.
        std::string_view place = issue.place;
        const bool missing = issue.type == IssueType::Incomplete ||
                             issue.type == IssueType::Required ||
                             issue.type == IssueType::Informational;
        while (missing && !place.empty() && at(root, place) == nullptr) place = parent(place);
        EXPECT_NE(at(root, place), nullptr) << file << " " << issue.rule << " " << issue.place;
      }
    }
  }
}

TEST(Examples, AreTheSameInAListAsAlone) {
  for (const std::filesystem::path& file : filesOf("clinic")) {
    const std::string bytes = *readFile(file);
    const std::size_t end = bytes.find_last_of('}') + 1;
    const Assessment alone = readBytes(bytes.substr(0, end)).assessment;
    const Assessment inLine = readBytes(edited(bytes, {})).assessment;
    EXPECT_EQ(alone.readings, inLine.readings) << file;
    EXPECT_EQ(alone.patient, inLine.patient) << file;
  }
}

}  // namespace
}  // namespace footbridge::test
