// Fontaine and Rutherford. A stated stage stands. Without one, what the recorded features give is
// given with the reservation that their cause has to be arterial; what they do not give stays open.

#include <array>

#include "assess/grade_schemes.hpp"
#include "assess/sentences.hpp"

namespace footbridge::assess {
namespace {

constexpr RowId kDistance{"grade-fontaine-distance"};

/// The most advanced of the recorded features, if those beyond it were denied.
enum class Feature : std::uint8_t { Unknown, None, Claudication, RestPain, TissueLoss };

struct Features {
  Answer tissue{};
  Answer pain{};
  Answer claudication{};

  Feature worst() const {
    if (tissue == Answer::Yes) return Feature::TissueLoss;
    if (tissue == Answer::Unknown) return Feature::Unknown;
    if (pain == Answer::Yes) return Feature::RestPain;
    if (pain == Answer::Unknown) return Feature::Unknown;
    if (claudication == Answer::Yes) return Feature::Claudication;
    return claudication == Answer::Unknown ? Feature::Unknown : Feature::None;
  }
};

Features featuresOf(const Leg& leg) {
  const std::string_view word = leg.word(Item::Claudication);
  const Answer walking = word == "present" ? Answer::Yes : Answer::No;
  return {tissueLoss(leg), restPain(leg), word.empty() ? Answer::Unknown : walking};
}

/// Only what stands in the way is named: claudication matters to no leg with rest pain.
std::string missing(const Features& features) {
  std::vector<std::string> names;
  if (features.tissue == Answer::Unknown) names.emplace_back("wound and gangrene");
  if (features.pain == Answer::Unknown) names.emplace_back("rest pain");
  const bool free = features.pain == Answer::No && features.claudication == Answer::Unknown;
  if (free) names.emplace_back("claudication");
  return listing(names);
}

/// Puts in a stage that the features give.
void give(Grade& grade, const Leg& leg, std::string_view outcome, std::string_view features) {
  const Rule& rule = leg.tables.rule("grade-stage-features");
  grade.outcome = outcome;
  grade.rule = rule.id;
  grade.remarks.push_back(remark(rule, {{"features", features}}));
}

void leave(Grade& grade, const Leg& leg, RowId rule, AbsentReason reason,
           Arguments arguments = {}) {
  leaveOpen(grade, reason, sentence(leg.tables, rule, arguments));
}

/// Beyond the bound, short of it, or at it; a bound on one side of it is enough.
void fontaineByDistance(Grade& grade, const Leg& leg) {
  const std::int32_t metres = figure(leg.tables, kDistance, "metres");
  const std::string bound = std::to_string(metres);
  const Reading* distance = leg.find(Item::ClaudicationDistance);
  const Answer beyond = above(distance, Decimal{metres, 0});
  const Answer shortOf = below(distance, Decimal{metres, 0});
  noteInputs(grade, leg, {Item::ClaudicationDistance});
  if (beyond == Answer::No && shortOf == Answer::No) {
    return leave(grade, leg, "grade-fontaine-at-bound", AbsentReason::NotApplicable,
                 {{"bound", bound}});
  }
  if (beyond != Answer::Yes && shortOf != Answer::Yes) {
    return leave(grade, leg, "grade-fontaine-no-distance", AbsentReason::Unknown,
                 {{"bound", bound}});
  }
  give(grade, leg, beyond == Answer::Yes ? "fontaine-2a" : "fontaine-2b", "claudication");
  const std::string written =
      std::string{symbol(distance->comparator)} + std::get<Decimal>(distance->content).text();
  grade.remarks.push_back(remark(leg.tables, kDistance, {{"distance", written}, {"bound", bound}}));
}

void byFeatures(Grade& grade, const Leg& leg) {
  const bool fontaine = grade.scheme == "fontaine";
  const Features features = featuresOf(leg);
  noteInputs(grade, leg, {Item::WoundDepth, Item::Gangrene, Item::RestPain, Item::Claudication});
  switch (features.worst()) {
    case Feature::TissueLoss:
      if (fontaine) return give(grade, leg, "fontaine-4", "wound or gangrene");
      return leave(grade, leg, "grade-rutherford-tissue-loss", AbsentReason::NotApplicable);
    case Feature::RestPain:
      return give(grade, leg, fontaine ? "fontaine-3" : "rutherford-4", "rest pain");
    case Feature::Claudication:
      if (fontaine) return fontaineByDistance(grade, leg);
      return leave(grade, leg, "grade-rutherford-claudication", AbsentReason::NotApplicable);
    case Feature::None:
      return leave(grade, leg, "grade-stage-free", AbsentReason::NotApplicable);
    case Feature::Unknown:
      return leave(grade, leg, "grade-stage-unknown", AbsentReason::Unknown,
                   {{"missing", missing(features)}});
  }
}

/// The concept of the word that was stated; "" if none was.
std::string_view statedOutcome(const Leg& leg, Item item) {
  const WordRow* found = leg.tables.wordOf(leg.tables.row(item), leg.word(item));
  return found == nullptr ? std::string_view{} : found->concept_id;
}

Grade stageGrade(const Leg& leg, std::string_view scheme, Item stated) {
  const Concept& named = *leg.tables.concept_(scheme);
  Grade grade = blank(leg, named.id, named.id);
  const Rule& source = leg.tables.rule(scheme == "fontaine" ? kDistance : "grade-rutherford-join");
  grade.source = source.source.text;
  grade.certainty = source.source.certainty;
  byFeatures(grade, leg);
  const std::string_view outcome = statedOutcome(leg, stated);
  if (outcome.empty()) return grade;
  const std::string_view computed = grade.outcome;
  grade.remarks.clear();
  grade.because.clear();
  grade.outcome = outcome;
  grade.rule = leg.tables.rule("grade-stage-stated").id;
  grade.inputs = {{stated, leg.side}};
  grade.remarks.push_back(remark(leg.tables, "grade-stage-stated"));
  if (!computed.empty() && computed != outcome) {
    grade.remarks.push_back(remark(leg.tables, "grade-stage-computed-differs",
                                   {{"computed", leg.tables.concept_(computed)->label}}));
  }
  return grade;
}

}  // namespace

bool stageRecorded(const Leg& leg) {
  static constexpr std::array kItems{Item::RestPain, Item::Claudication,   Item::WoundDepth,
                                     Item::Gangrene, Item::StatedFontaine, Item::StatedRutherford};
  for (const Item item : kItems) {
    if (leg.find(item) != nullptr) return true;
  }
  return false;
}

void addStageGrades(const Leg& leg, std::vector<Grade>& grades) {
  if (!stageRecorded(leg)) return;
  grades.push_back(stageGrade(leg, "fontaine", Item::StatedFontaine));
  grades.push_back(stageGrade(leg, "rutherford", Item::StatedRutherford));
}

}  // namespace footbridge::assess
