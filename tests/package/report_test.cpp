// What the report says in words: the most important first, nothing left out that was read, and
// never more than is known.

#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <iterator>

#include "app/pipeline.hpp"
#include "package/bundle.hpp"
#include "package/bundle_reader.hpp"
#include "package/retract.hpp"
#include "package/summary.hpp"
#include "package/wording.hpp"
#include "support/edit_json.hpp"

namespace footbridge::test {
namespace {

const Tables& tables() {
  static const Tables kTables = *embeddedTables();
  return kTables;
}

std::string example(std::string_view number) {
  for (const auto& entry : std::filesystem::directory_iterator(FOOTBRIDGE_EXAMPLES_DIR)) {
    if (!entry.path().filename().string().starts_with(number)) continue;
    std::ifstream in(entry.path(), std::ios::binary);
    return {std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>()};
  }
  return {};
}

/// The bundle of a text, which has to be accepted.
std::string bundleOf(const std::string& text) {
  const app::Pipeline pipeline(tables(), *parseInstant("2026-11-25T12:00:00+00:00"));
  const app::Outcome outcome = pipeline.run({"visit", text, {}});
  EXPECT_FALSE(outcome.refused());
  std::string out;
  package::BundleWriter(tables(), {})
      .append(out, outcome.assessment, outcome.findings, outcome.issues);
  return out;
}

json::Value reportOf(const std::string& bundle) {
  const json::Value read = tree(bundle);
  return *resources(read, "DiagnosticReport").front();
}

std::string conclusionOf(const std::string& text) {
  return std::string(reportOf(bundleOf(text)).text("conclusion"));
}

bool says(const std::string& text, std::string_view what) {
  return text.find(what) != std::string::npos;
}

TEST(Beside, LeavesOutWhatTheLabelHasSaid) {
  using package::beside;
  EXPECT_EQ(beside("Femoral pulse", "Pulse normal"), "normal");
  EXPECT_EQ(beside("Stated Fontaine stage", "Fontaine stage IIa"), "IIa");
  EXPECT_EQ(beside("Toe sensor", "Toe sensor by laser Doppler"), "by laser Doppler");
  EXPECT_EQ(beside("Chronic kidney disease", "Chronic kidney disease stage 3"), "stage 3");
  EXPECT_EQ(beside("Gangrene", "No gangrene"), "no gangrene");
  EXPECT_EQ(beside("Rest pain", "Absent"), "absent");
  EXPECT_EQ(beside("Rest", "Resting"), "resting");
  EXPECT_EQ(beside("Pulse", "Pulse"), "pulse");
  EXPECT_EQ(beside("", "I"), "I");
}

TEST(Report, SaysTheCautionsWhateverElseItSays) {
  for (const std::string_view number : {"01", "05", "12", "17"}) {
    const std::string text = conclusionOf(example(number));
    for (const std::string& caution : package::cautions()) {
      EXPECT_TRUE(says(text, "\n- " + caution)) << number;
    }
  }
}

TEST(Report, NamesWhoMeasuredByTheirIdentifierIfTheyHaveNoName) {
  EXPECT_TRUE(says(conclusionOf(example("14")), "Measured by D-003"));
}

/// Else one doubt on a whole leg is a list of all its grades, in which nobody reads the doubt.
TEST(Report, NamesTheGradesOfADoubtWhereTheyAreFew) {
  const std::string text = conclusionOf(example("05"));
  EXPECT_TRUE(
      says(text, "outside the published method (supine). (25 of the 28 grades of this leg)"))
      << text;
  EXPECT_TRUE(says(text,
                   "no rest pain of more than two weeks. (WIfI clinical stage; WIfI amputation "
                   "risk; WIfI revascularisation benefit)"))
      << text;
}

TEST(Report, BeginsWithItsStatusAndBothLegsInShort) {
  const std::string text = conclusionOf(example("16"));
  EXPECT_TRUE(text.starts_with(
      "Status: final. Lower-limb arterial assessment of 22 July 2026 15:00. Measured by Dilys "
      "Penhale (vascular scientist).\nIn short:\n- Right leg: ankle-brachial index 0.57, "
      "abnormal;"))
      << text;
  EXPECT_LT(text.find("Reliability and safety:"), text.find("\nRight leg:"));
  EXPECT_TRUE(conclusionOf(example("17")).starts_with("Status: preliminary. "));
}

TEST(Report, SaysWhatTheIndicesRestOn) {
  const std::string text = conclusionOf(example("16"));
  EXPECT_TRUE(says(text, "Arm systolic pressure (right) 152 mmHg;"));
  EXPECT_TRUE(says(text, "Arm systolic pressure (left) 128 mmHg"));
  EXPECT_TRUE(says(text, "Posture: supine; Rest before measuring 10 min"));
  EXPECT_TRUE(says(text, "Smoking: current smoker"));
  EXPECT_TRUE(says(text, "Cuff: Example Instruments Ankle 12 cm"));
  EXPECT_TRUE(says(text, "Femoral pulse: normal; Popliteal pulse: reduced"));
  const std::string noArms = edited(example("16"), {{"/arms", ""}});
  EXPECT_TRUE(says(conclusionOf(noArms), "Arms: no pressure was recorded."));
}

TEST(Report, SaysWhyNothingWasReadInTheCliniciansWords) {
  const std::string text = conclusionOf(example("26"));
  EXPECT_TRUE(says(text, "Toe pressure: no reading, not permitted (clot suspected in this calf)"));
  EXPECT_TRUE(says(conclusionOf(example("17")), "no reading, the measurement failed"));
}

TEST(Report, TellsAPressureFromACriterionWhoseConditionIsAbsent) {
  const std::string text = conclusionOf(example("16"));
  EXPECT_TRUE(says(text,
                   "Reaches the pressure figure of: PARC, tissue loss; TASC II, wound or gangrene; "
                   "the clinical condition that it goes with is recorded as absent."));
  EXPECT_FALSE(says(text, "Meets the published pressure criterion"));
}

TEST(Report, SaysWhichWayAFigureWentAndSinceWhen) {
  const std::string text = conclusionOf(example("27"));
  EXPECT_TRUE(says(text, "Compared with the earlier assessment of ")) << text;
  EXPECT_TRUE(says(text, ": lower by 0.")) << text;
}

TEST(Report, TellsNobodyOfThePatientAboutTheSending) {
  const std::string second =
      edited(example("16"), {{"/revision", "2"}, {"/status", "\"corrected\""}});
  const std::string text = conclusionOf(second);
  EXPECT_TRUE(text.starts_with("Status: corrected. "));
  EXPECT_TRUE(says(text, ", revision 2. Measured by "));
  EXPECT_FALSE(says(text, "replaces in the record"));
}

TEST(Report, KeepsTheLinesOfTheNote) {
  const std::string text = edited(example("16"), {{"/note", R"("First.\nSecond.")"}});
  const json::Value report = reportOf(bundleOf(text));
  EXPECT_TRUE(says(std::string(report.text("conclusion")), "\n- First.\n- Second.\n"));
  EXPECT_TRUE(
      says(std::string(report.member("text")->text("div")), "<li>First.</li><li>Second.</li>"));
}

TEST(Report, OfAWithdrawalSaysSoAndNothingElse) {
  const std::string head = edited(example("16"), {{"/revision", "2"},
                                                  {"/status", "\"entered-in-error\""},
                                                  {"/arms", ""},
                                                  {"/legs", ""},
                                                  {"/note", "\"Entered for the wrong visit.\""}});
  const std::string bundle = bundleOf(head);
  const json::Value report = reportOf(bundle);
  const std::string text(report.text("conclusion"));
  EXPECT_TRUE(text.starts_with("Status: entered-in-error, withdrawn. ")) << text;
  EXPECT_TRUE(says(text, "Entered for the wrong visit."));
  EXPECT_FALSE(says(text, "leg:"));
  const json::Value* result = report.member("result");
  EXPECT_TRUE(result == nullptr || !result->asArray()->empty());
  EXPECT_TRUE(says(bundle, R"("code":"NULLIFY")"));
}

TEST(Report, SaysThatItIsWithdrawnOnceItIs) {
  const Result<package::Retractions> gone = package::retractions(bundleOf(example("16")), {});
  ASSERT_TRUE(gone);
  const json::Value entries = tree("[" + gone->entries.substr(1) + "]");
  for (const json::Value& entry : *entries.asArray()) {
    const json::Value& resource = *entry.member("resource");
    if (resource.text("resourceType") != "DiagnosticReport") continue;
    EXPECT_TRUE(std::string(resource.text("conclusion"))
                    .starts_with("Status: entered-in-error, withdrawn. "));
    EXPECT_TRUE(says(std::string(resource.member("text")->text("div")),
                     "<p>Status: entered-in-error, withdrawn. "));
    EXPECT_FALSE(says(std::string(resource.member("text")->text("div")), "Status: final."));
  }
}

}  // namespace
}  // namespace footbridge::test
