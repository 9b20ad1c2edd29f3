// Published figures that one measure is held against, each on its own: exercise, change, healing,
// segments. Rows of one kind are there only where something of that kind was recorded.

#include <algorithm>
#include <array>

#include "assess/derive_parts.hpp"
#include "assess/grade_schemes.hpp"
#include "assess/pressures.hpp"
#include "assess/sentences.hpp"

namespace footbridge::assess {
namespace {

/// What is known of a measure: from `low` to `high`, both in units of 1/`per`; nothing known
/// without `low`.
struct Known {
  std::optional<std::int64_t> low{};
  std::optional<std::int64_t> high{};
  std::int64_t per = 1;
  std::string text{};
  std::string because{};  ///< if nothing is known
};

Known exactly(std::int64_t value, std::int64_t per, std::string text) {
  return {value, value, per, std::move(text), {}};
}

/// Of an index that is there.
Known knownOf(const Index& index) {
  if (index.tenths) {
    return exactly(100 * index.ratio->num, index.ratio->den, tenthsText(*index.tenths) + " %");
  }
  if (index.hundredths) return exactly(*index.hundredths, 1, hundredthsText(*index.hundredths));
  return exactly(index.difference->halves, 2, index.difference->text() + " mmHg");
}

Known knownOf(const std::optional<Span>& span, std::string_view name, const Tables& tables) {
  if (!span) {
    return {.because = sentence(tables, "grade-criterion-no-pressure", {{"measure", name}})};
  }
  return {span->lowest, span->highest, 1, mmhgText(*span), {}};
}

Known afterExercise(Grade& grade, const Leg& leg) {
  const Exercised pressures = exercised(leg.assessment, leg.side, leg.tables);
  const Chosen& after = pressures.after;
  grade.inputs = after.inputs;
  if (after.pressure) return exactly(after.pressure->halves, 2, after.pressure->text() + " mmHg");
  if (!pressures.highestAfter) return {.because = after.because};
  grade.remarks = after.remarks;
  const Pressure highest = *pressures.highestAfter;
  return {0, highest.halves, 2, highest.text() + " mmHg or less", {}};
}

/// What a bound after exercise leaves of an index: a fall of at least so much, an index of at most
/// so much; nothing of any other.
Known leftByBound(const Exercised& known, IndexKind kind) {
  const std::int64_t after = known.highestAfter->halves;
  if (kind == IndexKind::ExerciseAnkleFall && known.rest.pressure) {
    const Pressure least{known.rest.pressure->halves - known.highestAfter->halves};
    return {least.halves, known.rest.pressure->halves, 2, least.text() + " mmHg or more", {}};
  }
  if (kind == IndexKind::AbiAfterExercise && known.armAfter.pressure) {
    const std::int64_t most = hundredths({after, known.armAfter.pressure->halves});
    return {0, most, 1, hundredthsText(static_cast<std::int32_t>(most)) + " or less", {}};
  }
  const bool all = allKnown({&known.rest, &known.arm, &known.armAfter});
  if (kind != IndexKind::ExerciseAbiFall || !all) return {};
  const std::int64_t atRest =
      std::int64_t{known.rest.pressure->halves} * known.armAfter.pressure->halves;
  const std::int64_t fall = 100 * (atRest - after * known.arm.pressure->halves);
  const std::int64_t whole = fall / atRest - (fall % atRest < 0 ? 1 : 0);
  return {fall, 100 * atRest, atRest, std::to_string(whole) + " % or more", {}};
}

/// Of an index that is not there: what a bound leaves of it, or why nothing is known.
Known knownWithout(Grade& grade, const Leg& leg, const Index& index) {
  const Exercised known = exercised(leg.assessment, leg.side, leg.tables);
  Known left = known.highestAfter ? leftByBound(known, index.kind) : Known{};
  if (left.low) {
    grade.remarks = known.after.remarks;
  } else {
    left.because = index.because;
  }
  return left;
}

/// The measure of a row, with what it rests on put into the grade.
Known measured(Grade& grade, const Leg& leg, std::string_view measure) {
  const auto kind = std::find(kIndexIds.begin(), kIndexIds.end(), measure);
  if (kind != kIndexIds.end()) {
    const auto which = static_cast<IndexKind>(kind - kIndexIds.begin());
    const Index* index = leg.index(which);
    grade.indices = {{which, leg.side}};
    if (index == nullptr) return {};
    return index->present() ? knownOf(*index) : knownWithout(grade, leg, *index);
  }
  if (measure == "ankle-after") return afterExercise(grade, leg);
  if (measure == "toe") {
    noteInputs(grade, leg, {Item::ToePressure});
    return knownOf(toeSpan(leg), "toe pressure", leg.tables);
  }
  if (measure == "tcpo2") {
    noteInputs(grade, leg, {Item::Tcpo2});
    return knownOf(tcpo2Span(leg), "TcPO2", leg.tables);
  }
  const AnkleSpans spans = ankleSpans(leg.assessment, leg.side);
  grade.inputs = spans.inputs;
  return knownOf(spans.higher, "ankle pressure", leg.tables);
}

/// A change of -0.15 is as large as one of 0.15.
void dropSign(Known& known) {
  if (!known.low || *known.low >= 0) return;
  known.low = -*known.low;
  known.high = known.low;
}

Answer answerOf(const Known& known, Edge edge, std::int64_t figure) {
  if (!known.low) return Answer::Unknown;
  const std::int64_t bound = figure * known.per;
  const bool upward = edge == Edge::Above || edge == Edge::AtLeast;
  // Above and AtMost part at the figure itself from AtLeast and Below.
  const std::int64_t least = edge == Edge::Above || edge == Edge::AtMost ? bound + 1 : bound;
  if (*known.low >= least) return upward ? Answer::Yes : Answer::No;
  if (known.high && *known.high < least) return upward ? Answer::No : Answer::Yes;
  return Answer::Unknown;
}

/// What the two rounded indices would say, which a reader may recompute.
void remarkRounded(Grade& grade, const Leg& leg, const Criterion& criterion) {
  const Exercised pressures = exercised(leg.assessment, leg.side, leg.tables);
  const auto& [rest, after, arm, armAfter, highest] = pressures;
  if (!allKnown({&rest, &after, &arm, &armAfter})) return;
  const std::int64_t before = hundredths({rest.pressure->halves, arm.pressure->halves});
  const std::int64_t then = hundredths({after.pressure->halves, armAfter.pressure->halves});
  const Known rounded = exactly(100 * (before - then), before, {});
  const bool met = answerOf(rounded, criterion.edge, criterion.figure) == Answer::Yes;
  if (met == (grade.outcome == "criterion-met")) return;
  const auto text = [](std::int64_t value) {
    return hundredthsText(static_cast<std::int32_t>(value));
  };
  grade.remarks.push_back(remark(leg.tables, "grade-criterion-rounded-differs",
                                 {{"rest", text(before)}, {"after", text(then)}}));
}

void leaveUnmeasured(Grade& grade, const Leg& leg, const Criterion& criterion, const Known& known) {
  const Index* index = grade.indices.empty() ? nullptr : leg.index(grade.indices.front().kind);
  grade.source = criterion.source.text;
  grade.certainty = criterion.source.certainty;
  leaveOpen(grade, index == nullptr ? AbsentReason::Unknown : index->reason,
            sentence(leg.tables, "grade-criterion-none",
                     {{"asked", criterion.name}, {"why", known.because}}));
}

Grade criterionGrade(const Leg& leg, const Criterion& criterion) {
  static constexpr std::array<std::string_view, 3> kOutcomes{"criterion-not-met", "criterion-met",
                                                             "criterion-cannot-say"};
  static constexpr std::array<std::string_view, 3> kRules{
      "grade-criterion-unmet", "grade-criterion-met", "grade-criterion-undecided"};
  Grade grade = blank(leg, criterion.scheme, criterion.id);
  Known known = measured(grade, leg, criterion.measure);
  if (!known.low) {
    leaveUnmeasured(grade, leg, criterion, known);
    return grade;
  }
  if (criterion.eitherWay) dropSign(known);
  const auto answer = static_cast<std::size_t>(answerOf(known, criterion.edge, criterion.figure));
  decide(grade, kOutcomes[answer], criterion.id, criterion.source);
  grade.remarks.push_back(remark(leg.tables, kRules[answer],
                                 {{"value", known.text},
                                  {"asked", criterion.name},
                                  {"source", criterion.source.text},
                                  {"certainty", criterion.source.certainty}}));
  if (criterion.measure == id(IndexKind::ExerciseAbiFall)) remarkRounded(grade, leg, criterion);
  return grade;
}

bool anySent(const Leg& leg, std::initializer_list<Item> items) {
  return std::any_of(items.begin(), items.end(),
                     [&leg](Item item) { return leg.find(item) != nullptr; });
}

/// Whether anything of the kind that a scheme is about was recorded.
bool concerns(const Leg& leg, std::string_view scheme) {
  if (scheme == "exercise-criterion") {
    return anySent(leg, {Item::ExerciseDorsalisPedis, Item::ExercisePosteriorTibial});
  }
  if (scheme == "change-criterion") {
    return anySent(leg, {Item::PreviousAbi, Item::PreviousTbi, Item::PreviousToePressure});
  }
  if (scheme == "segment-criterion") {
    return anySent(leg, {Item::SegmentHighThigh, Item::SegmentLowThigh, Item::SegmentCalf});
  }
  return scheme != "healing-criterion" || tissueLoss(leg) == Answer::Yes;
}

}  // namespace

void addCriteriaGrades(const Leg& leg, std::vector<Grade>& grades) {
  const bool noDiabetes = visitWord(leg.assessment, Item::HistoryDiabetes) == "none";
  for (const Criterion& criterion : leg.tables.criteria) {
    if (!concerns(leg, criterion.scheme) || (criterion.inDiabetes && noDiabetes)) continue;
    grades.push_back(criterionGrade(leg, criterion));
  }
}

}  // namespace footbridge::assess
