// Classes of the ankle-brachial and toe-brachial index, by every rule set that states some.

#include <algorithm>

#include "assess/grade_schemes.hpp"
#include "assess/pressures.hpp"
#include "assess/sentences.hpp"

namespace footbridge::assess {
namespace {

constexpr RowId kAnkleClause{"grade-band-ankle-clause"};

void applyBand(Grade& grade, const RuleSet& set, const Band& band, std::int32_t hundredths,
               const Tables& tables) {
  const Source& source = band.source.text.empty() ? set.source : band.source;
  decide(grade, band.outcome, band.id, source);
  remarkEdge(grade, band, hundredths, tables.rule("grade-band-edge"));
  if (!band.outcome.empty()) return;
  leaveOpen(grade, AbsentReason::NotApplicable,
            sentence(tables, "grade-band-unnamed",
                     {{"source", set.name}, {"value", hundredthsText(hundredths)}}));
}

/// What the class would be without the clause, or why there is none.
std::string otherwise(const Grade& grade, const RuleSet& set, const Leg& leg) {
  const auto index = leg.hundredths(IndexKind::Abi);
  if (!index) return grade.because;
  return sentence(leg.tables, "grade-band-by-index", {{"class", bandOf(set.abi, *index)->wording}});
}

/// Two sources put a leg into their worst class by its ankle pressure alone, with or without an
/// index.
void applyAnkleClause(Grade& grade, const RuleSet& set, const Leg& leg) {
  const std::int32_t* const bound = leg.tables.rule(kAnkleClause).number(set.id);
  if (bound == nullptr || grade.rule == set.abi.front().id) return;
  const AnkleSpans spans = ankleSpans(leg.assessment, leg.side);
  if (!spans.higher || !allBelow(*spans.higher, *bound)) return;
  const Chosen ankle = anklePressure(leg.assessment, leg.side, leg.tables);
  const Band& worst = set.abi.front();
  grade.remarks.push_back(remark(
      leg.tables, kAnkleClause,
      {{"value", ankle.pressure ? ankle.pressure->text() + " mmHg" : mmhgText(*spans.higher)},
       {"bound", std::to_string(*bound)},
       {"otherwise", otherwise(grade, set, leg)}}));
  decide(grade, worst.outcome, worst.id, worst.source.text.empty() ? set.source : worst.source);
  grade.inputs = spans.inputs;
}

Grade bandGrade(const Leg& leg, const RuleSet& set, IndexKind kind) {
  const bool toe = kind == IndexKind::Tbi;
  Grade grade = blank(leg, toe ? "tbi-band" : "abi-band", set.id);
  grade.source = set.source.text;
  grade.certainty = set.source.certainty;
  const Index* index = leg.index(kind);
  grade.indices.push_back({kind, leg.side});
  const bool known = index != nullptr && index->hundredths;
  const Band* band = known ? bandOf(toe ? set.tbi : set.abi, *index->hundredths) : nullptr;
  if (!known) {
    leaveOpen(grade, index == nullptr ? AbsentReason::Unknown : index->reason,
              sentence(leg.tables, "grade-band-no-index",
                       {{"index", leg.tables.naming(kind, leg.side)},
                        {"why", index == nullptr ? "" : index->because}}));
  }
  if (band != nullptr) applyBand(grade, set, *band, *index->hundredths, leg.tables);
  if (!toe) applyAnkleClause(grade, set, leg);
  return grade;
}

}  // namespace

const Band* bandOf(const std::vector<Band>& bands, std::int32_t hundredths) {
  const auto found = std::find_if(bands.begin(), bands.end(), [=](const Band& band) {
    return (!band.from || hundredths >= *band.from) && (!band.to || hundredths <= *band.to);
  });
  return found == bands.end() ? nullptr : &*found;
}

void remarkEdge(Grade& grade, const Band& band, std::int32_t hundredths, const Rule& rule) {
  const auto edge = band.edges.find(hundredths);
  if (edge == band.edges.end()) return;
  grade.remarks.push_back(
      remark(rule, {{"value", hundredthsText(hundredths)}, {"edge", edge->second}}));
}

void addBandGrades(const Leg& leg, std::vector<Grade>& grades) {
  for (const RuleSet& set : leg.tables.ruleSets) {
    if (!set.abi.empty()) grades.push_back(bandGrade(leg, set, IndexKind::Abi));
  }
  for (const RuleSet& set : leg.tables.ruleSets) {
    if (!set.tbi.empty()) grades.push_back(bandGrade(leg, set, IndexKind::Tbi));
  }
}

}  // namespace footbridge::assess
