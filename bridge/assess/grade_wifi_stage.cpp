// The WIfI cell: a look-up, never a sum. Stage 5 is a clinician's statement and is not in the grid.

#include <array>

#include "assess/grade_schemes.hpp"
#include "assess/sentences.hpp"

namespace footbridge::assess {
namespace {

constexpr std::array<std::string_view, 6> kStages{
    "", "wifi-stage-1", "wifi-stage-2", "wifi-stage-3", "wifi-stage-4", "wifi-stage-5"};
constexpr std::size_t kUnsalvageable = 5;

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
  grade.remarks.push_back(remark(leg.tables, inside == Answer::No
                                                 ? "grade-wifi-outside-population"
                                                 : "grade-wifi-population-unknown"));
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
  return grade;
}

/// The clinician calls the foot unsalvageable: stage 5, with the grid's own answer kept beside it.
void applyUnsalvageable(Grade& stage, const Leg& leg, const WifiCell* cell) {
  if (leg.word(Item::StatedUnsalvageable) != "yes") return;
  const Rule& rule = leg.tables.rule("grade-wifi-unsalvageable");
  const std::string grid = cell == nullptr ? stage.because
                                           : sentence(leg.tables, "grade-wifi-grid-stage",
                                                      {{"stage", std::to_string(cell->stage)}});
  decide(stage, kStages[kUnsalvageable], rule.id, rule.source);
  stage.inputs.push_back({Item::StatedUnsalvageable, leg.side});
  stage.remarks.insert(stage.remarks.begin(), {rule.id, fill(rule.text, {{"grid", grid}})});
}

std::string_view outcomeAt(const WifiCell* cell, std::size_t which) {
  return cell == nullptr ? std::string_view{} : std::string_view{cell->outcome[which]};
}

}  // namespace

void addWifiGrades(const Leg& leg, std::vector<Grade>& grades) {
  const Three three{woundGrade(leg), ischaemiaGrade(leg), infectionGrade(leg)};
  const WifiCell* cell = cellOf(three, leg.tables.wifi);
  const std::string_view stage =
      cell == nullptr ? std::string_view{} : kStages[static_cast<std::size_t>(cell->stage)];
  grades.insert(grades.end(), three.begin(), three.end());
  grades.push_back(fromCell(leg, "wifi-stage", three, cell, stage));
  applyUnsalvageable(grades.back(), leg, cell);
  grades.push_back(fromCell(leg, "wifi-amputation-risk", three, cell, outcomeAt(cell, 0)));
  grades.push_back(
      fromCell(leg, "wifi-revascularisation-benefit", three, cell, outcomeAt(cell, 1)));
}

}  // namespace footbridge::assess
