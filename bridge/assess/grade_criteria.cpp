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

Known knownOf(const Index& index) {
  if (index.tenths) {
    return exactly(100 * index.ratio->num, index.ratio->den, tenthsText(*index.tenths) + " %");
  }
  if (index.hundredths) return exactly(*index.hundredths, 1, hundredthsText(*index.hundredths));
  if (index.difference) {
    return exactly(index.difference->halves, 2, index.difference->text() + " mmHg");
  }
  return {.because = index.because};
}

Known knownOf(const std::optional<Span>& span, std::string_view name, const Tables& tables) {
  if (!span) {
    return {.because = sentence(tables, "grade-criterion-no-pressure", {{"measure", name}})};
  }
  return {span->lowest, span->highest, 1, mmhgText(*span), {}};
}

Known afterExercise(Grade& grade, const Leg& leg) {
  const Chosen after = exercised(leg.assessment, leg.side, leg.tables).after;
  grade.inputs = after.inputs;
  if (!after.pressure) return {.because = after.because};
  return exactly(after.pressure->halves, 2, after.pressure->text() + " mmHg");
}

/// The measure of a row, with what it rests on put into the grade.
Known measured(Grade& grade, const Leg& leg, std::string_view measure) {
  const auto kind = std::find(kIndexIds.begin(), kIndexIds.end(), measure);
  if (kind != kIndexIds.end()) {
    const auto which = static_cast<IndexKind>(kind - kIndexIds.begin());
    const Index* index = leg.index(which);
    grade.indices = {{which, leg.side}};
    return index == nullptr ? Known{} : knownOf(*index);
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
  const auto& [rest, after, arm, armAfter] = pressures;
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
  for (const Criterion& criterion : leg.tables.criteria) {
    if (concerns(leg, criterion.scheme)) grades.push_back(criterionGrade(leg, criterion));
  }
}

}  // namespace footbridge::assess
