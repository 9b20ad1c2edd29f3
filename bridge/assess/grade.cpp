#include "assess/grade.hpp"

#include <algorithm>
#include <array>
#include <iterator>

#include "assess/grade_schemes.hpp"
#include "assess/sentences.hpp"

namespace footbridge {
namespace {

using assess::Leg;

/// What is seen of a wound or an infection does not change with posture, nor what is complained of;
/// the text on compression is then not given at all.
constexpr std::array<std::string_view, 5> kPostureFree{"wifi-wound", "wifi-infection", "fontaine",
                                                       "rutherford", "compression-band"};

/// Room for those of both legs, made at once.
constexpr std::size_t kUsualGrades = 160;

bool dependsOnPosture(const Grade& grade) {
  return std::find(kPostureFree.begin(), kPostureFree.end(), grade.scheme) == kPostureFree.end();
}

void remarkPosture(std::vector<Grade>& grades, const Assessment& assessment, const Tables& tables) {
  const std::string_view posture = assess::visitWord(assessment, Item::Posture);
  if (posture.empty() || posture == "supine") return;
  for (Grade& grade : grades) {
    if (!grade.present() || !dependsOnPosture(grade)) continue;
    grade.remarks.push_back(assess::remark(tables, "grade-posture", {{"posture", posture}}));
  }
}

}  // namespace

namespace assess {

Grade blank(const Leg& leg, std::string_view scheme, std::string_view ruleSet) {
  Grade grade;
  grade.scheme = scheme;
  grade.ruleSet = ruleSet;
  grade.side = leg.side;
  return grade;
}

Grade blankWifi(const Leg& leg, std::string_view scheme) {
  Grade grade = blank(leg, scheme, "svs-wifi-2014");
  grade.source = leg.tables.wifi.source.text;
  grade.certainty = leg.tables.wifi.source.certainty;
  return grade;
}

void decide(Grade& grade, std::string_view outcome, std::string_view rule, const Source& source) {
  grade.outcome = outcome;
  grade.rule = rule;
  grade.source = source.text;
  grade.certainty = source.certainty;
  grade.because.clear();
}

void leaveOpen(Grade& grade, AbsentReason reason, std::string because) {
  grade.outcome = {};
  grade.reason = reason;
  grade.because = std::move(because);
}

void noteInputs(Grade& grade, const Leg& leg, std::initializer_list<Item> items) {
  for (const Item item : items) {
    const Reading* reading = leg.find(item);
    if (reading == nullptr || std::holds_alternative<Absence>(reading->content)) continue;
    grade.inputs.push_back({item, leg.side});
  }
}

std::string text(const GradeRange& range) {
  std::string mildest = std::to_string(range.mildest);
  if (range.mildest == range.worst) return mildest;
  const bool next = range.mildest + 1 == range.worst;
  return mildest + (next ? " or " : " to ") + std::to_string(range.worst);
}

namespace {

/// What the findings say against the stated grade, with their warnings.
std::vector<Remark> besideStated(const Grade& grade, const Leg& leg, std::int32_t stated,
                                 const GradeRange& left) {
  const auto computed = number(grade);
  const GradeRange possible = computed ? GradeRange{*computed, *computed} : left;
  std::vector<Remark> remarks;
  if (stated < possible.mildest || stated > possible.worst) {
    remarks.push_back(remark(
        leg.tables,
        choose(computed.has_value(), "grade-wifi-stated-differs", "grade-wifi-stated-outside"),
        {{"stated", std::to_string(stated)}, {"computed", text(possible)}}));
  }
  std::copy_if(grade.remarks.begin(), grade.remarks.end(), std::back_inserter(remarks),
               [](const Remark& one) { return one.severity == Severity::Warning; });
  return remarks;
}

}  // namespace

void preferStated(Grade& grade, const Leg& leg, Item stated, const GradeRange& left) {
  static constexpr std::array<std::string_view, 3> kSchemes{"wifi-wound", "wifi-ischaemia",
                                                            "wifi-infection"};
  static constexpr std::array<std::array<std::string_view, 4>, 3> kOutcomes{{
      {"wifi-wound-0", "wifi-wound-1", "wifi-wound-2", "wifi-wound-3"},
      {"wifi-ischaemia-0", "wifi-ischaemia-1", "wifi-ischaemia-2", "wifi-ischaemia-3"},
      {"wifi-infection-0", "wifi-infection-1", "wifi-infection-2", "wifi-infection-3"},
  }};
  const std::string_view word = leg.word(stated);
  if (word.size() != 1 || word[0] < '0' || word[0] > '3') return;
  const auto row = static_cast<std::size_t>(
      std::find(kSchemes.begin(), kSchemes.end(), grade.scheme) - kSchemes.begin());
  grade.remarks = besideStated(grade, leg, word[0] - '0', left);
  const Rule& rule = leg.tables.rule("grade-wifi-stated");
  decide(grade, kOutcomes[row][static_cast<std::size_t>(word[0] - '0')], rule.id, rule.source);
  grade.remarks.insert(grade.remarks.begin(), remark(rule, {{"grade", word}}));
  grade.inputs = {{stated, leg.side}};
  grade.indices.clear();
}

std::optional<std::int32_t> number(const Grade& grade) {
  if (!grade.present()) return std::nullopt;
  return grade.outcome.back() - '0';
}

}  // namespace assess

std::vector<Grade> gradeFindings(const Assessment& assessment, const std::vector<Index>& indices,
                                 const Tables& tables) {
  std::vector<Grade> grades;
  grades.reserve(kUsualGrades);
  for (const Side side : kSides) {
    const Leg leg{assessment, indices, tables, side};
    assess::addBandGrades(leg, grades);
    assess::addCltiGrades(leg, grades);
    assess::addWifiGrades(leg, grades);
    assess::addWaveformGrades(leg, grades);
    assess::addStageGrades(leg, grades);
    assess::addCriteriaGrades(leg, grades);
    assess::addCompressionGrades(leg, grades);
  }
  remarkPosture(grades, assessment, tables);
  return grades;
}

}  // namespace footbridge
