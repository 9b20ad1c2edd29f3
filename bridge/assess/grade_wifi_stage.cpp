// The WIfI cell: a look-up, never a sum. Stage 5 is a clinician's statement and is not in the grid.

#include <array>
#include <iterator>

#include "assess/grade_schemes.hpp"
#include "assess/sentences.hpp"

namespace footbridge::assess {
namespace {

constexpr std::array<std::string_view, 6> kStages{
    "", "wifi-stage-1", "wifi-stage-2", "wifi-stage-3", "wifi-stage-4", "wifi-stage-5"};
constexpr std::size_t kUnsalvageable = 5;

constexpr std::string_view kWound = "wifi-wound";
constexpr std::string_view kIschaemia = "wifi-ischaemia";
constexpr std::string_view kInfection = "wifi-infection";
constexpr std::string_view kStage = "wifi-stage";
constexpr std::string_view kRisk = "wifi-amputation-risk";
constexpr std::string_view kBenefit = "wifi-revascularisation-benefit";

/// The three grades of a leg, in the order of the grid.
using Three = std::array<Grade, 3>;

const WifiCell* cellOf(const Three& three, const WifiTables& wifi) {
  static constexpr std::size_t kGrades = 4;
  std::size_t at = 0;
  for (const Grade& grade : three) {
    const auto value = number(grade);
    if (!value) return nullptr;
    at = at * kGrades + static_cast<std::size_t>(*value);
  }
  return &wifi.cells[at];
}

std::string missing(const Three& three) {
  static constexpr std::array<std::string_view, 3> kNames{"wound", "ischaemia", "foot infection"};
  std::vector<std::string> names;
  for (std::size_t i = 0; i < three.size(); ++i) {
    if (!three[i].present()) names.emplace_back(kNames[i]);
  }
  return listing(names);
}

Remark cellRemark(const Three& three, const Tables& tables) {
  return remark(tables, "grade-wifi-cell",
                {{"w", std::to_string(*number(three[0]))},
                 {"i", std::to_string(*number(three[1]))},
                 {"fi", std::to_string(*number(three[2]))}});
}

/// Made for legs with a wound, gangrene, or rest pain of more than two weeks.
Answer insidePopulation(const Leg& leg) {
  const Decimal days{figure(leg.tables, "grade-wifi-outside-population", "days"), 0};
  const Answer wound = tissueLoss(leg);
  const Answer pain = restPain(leg);
  const Answer lasting = pain == Answer::Yes ? above(leg.find(Item::RestPainDays), days) : pain;
  if (wound == Answer::Yes || lasting == Answer::Yes) return Answer::Yes;
  const bool excluded = wound == Answer::No && lasting == Answer::No;
  return excluded ? Answer::No : Answer::Unknown;
}

void remarkPopulation(Grade& grade, const Leg& leg) {
  const Answer inside = insidePopulation(leg);
  if (inside == Answer::Yes) return;
  grade.remarks.push_back(
      remark(leg.tables, choose(inside == Answer::No, "grade-wifi-outside-population",
                                "grade-wifi-population-unknown")));
}

void noteThree(Grade& grade, const Three& three) {
  for (const Grade& one : three) {
    grade.inputs.insert(grade.inputs.end(), one.inputs.begin(), one.inputs.end());
    grade.indices.insert(grade.indices.end(), one.indices.begin(), one.indices.end());
  }
}

/// A stage, risk or benefit from the cell, or open because a grade is missing.
Grade fromCell(const Leg& leg, std::string_view scheme, const Three& three, const WifiCell* cell,
               std::string_view outcome) {
  Grade grade = blankWifi(leg, scheme);
  noteThree(grade, three);
  if (cell == nullptr) {
    leaveOpen(grade, AbsentReason::Unknown,
              sentence(leg.tables, "grade-wifi-stage-missing", {{"missing", missing(three)}}));
    return grade;
  }
  const Source& source = cell->source.text.empty() ? leg.tables.wifi.source : cell->source;
  decide(grade, outcome, leg.tables.rule("grade-wifi-cell").id, source);
  grade.remarks.push_back(cellRemark(three, leg.tables));
  remarkPopulation(grade, leg);
  if (scheme == kBenefit) grade.remarks.push_back(remark(leg.tables, "grade-wifi-benefit-assumes"));
  return grade;
}

/// The clinician calls the foot unsalvageable: stage 5, with the grid's own answer kept beside it.
void applyUnsalvageable(Grade& stage, const Leg& leg, const WifiCell* cell) {
  const Rule& rule = leg.tables.rule("grade-wifi-unsalvageable");
  const std::string grid = cell == nullptr ? stage.because
                                           : sentence(leg.tables, "grade-wifi-grid-stage",
                                                      {{"stage", std::to_string(cell->stage)}});
  decide(stage, kStages[kUnsalvageable], rule.id, rule.source);
  stage.inputs.push_back({Item::StatedUnsalvageable, leg.side});
  stage.remarks.insert(stage.remarks.begin(), remark(rule, {{"grid", grid}}));
}

/// Risk and benefit are published for the stages of the grid only.
void leaveBeyondGrid(Grade& grade, const Leg& leg) {
  const std::string grid = grade.present()
                               ? sentence(leg.tables, "grade-wifi-grid-outcome",
                                          {{"outcome", leg.tables.concept_(grade.outcome)->label}})
                               : grade.because;
  leaveOpen(grade, AbsentReason::NotApplicable,
            sentence(leg.tables, "grade-wifi-beyond-grid", {{"grid", grid}}));
  grade.inputs.push_back({Item::StatedUnsalvageable, leg.side});
}

/// No foot, no grade: an answer would be read as one about the leg that is left.
void leaveAmputated(const Leg& leg, std::string_view level, std::vector<Grade>& grades) {
  for (const std::string_view scheme : {kWound, kIschaemia, kInfection, kStage, kRisk, kBenefit}) {
    Grade grade = blankWifi(leg, scheme);
    leaveOpen(grade, AbsentReason::NotApplicable,
              sentence(leg.tables, "grade-wifi-amputated", {{"level", level}}));
    noteInputs(grade, leg, {Item::HistoryAmputation});
    grades.push_back(std::move(grade));
  }
}

std::string_view outcomeAt(const WifiCell* cell, std::size_t which) {
  return cell == nullptr ? std::string_view{} : std::string_view{cell->outcome[which]};
}

}  // namespace

void addWifiGrades(const Leg& leg, std::vector<Grade>& grades) {
  const std::string_view level = leg.word(Item::HistoryAmputation);
  if (level == "below-knee" || level == "above-knee") return leaveAmputated(leg, level, grades);
  Three three{woundGrade(leg), ischaemiaGrade(leg), infectionGrade(leg)};
  const WifiCell* cell = cellOf(three, leg.tables.wifi);
  const std::string_view stage =
      cell == nullptr ? std::string_view{} : kStages[static_cast<std::size_t>(cell->stage)];
  Grade staged = fromCell(leg, kStage, three, cell, stage);
  Grade risk = fromCell(leg, kRisk, three, cell, outcomeAt(cell, 0));
  Grade benefit = fromCell(leg, kBenefit, three, cell, outcomeAt(cell, 1));
  if (leg.word(Item::StatedUnsalvageable) == "yes") {
    applyUnsalvageable(staged, leg, cell);
    leaveBeyondGrid(risk, leg);
    leaveBeyondGrid(benefit, leg);
  }
  std::move(three.begin(), three.end(), std::back_inserter(grades));
  for (Grade* grade : {&staged, &risk, &benefit}) grades.push_back(std::move(*grade));
}

}  // namespace footbridge::assess
