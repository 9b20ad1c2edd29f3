// WIfI ischaemia grade. Toe pressure decides where it is known; a milder grade from the ankle never
// replaces it. Without it the worse of index and ankle pressure, or TcPO2 where the ankle cannot be
// relied on. A bound stands for its mildest grade: nothing milder stands beside it. Nothing usable
// is unknown, never 0 (docs/clinical.md).

#include <array>

#include "assess/grade_schemes.hpp"
#include "assess/pressures.hpp"
#include "assess/sentences.hpp"
#include "assess/wifi_ischaemia_measures.hpp"

namespace footbridge::assess {
namespace {

using Measures = IschaemiaMeasures;

constexpr std::array<std::string_view, 4> kOutcomes{"wifi-ischaemia-0", "wifi-ischaemia-1",
                                                    "wifi-ischaemia-2", "wifi-ischaemia-3"};

void say(Grade& grade, const Leg& leg, RowId rule, const Basis& basis) {
  grade.remarks.push_back(
      remark(leg.tables, rule,
             {{"measure", basis.name}, {"value", basis.value()}, {"grade", text(basis.grades())}}));
}

/// True if the basis by itself would not give this grade, or give it only as one of several.
bool differs(const Grade& grade, const Basis& basis) {
  return basis.known() && !(basis.decides() && basis.worst->grade == number(grade));
}

void sayIfDiffers(Grade& grade, const Leg& leg, RowId rule, const Basis& basis) {
  if (differs(grade, basis)) say(grade, leg, rule, basis);
}

void noteBasis(Grade& grade, const Leg& leg, const Basis& basis) {
  if (basis.measure == "toe") noteInputs(grade, leg, {Item::ToePressure});
  if (basis.measure == "tcpo2") noteInputs(grade, leg, {Item::Tcpo2});
  if (basis.index) grade.indices.push_back({*basis.index, leg.side});
  if (basis.measure == "ankle") grade.inputs = ankleSpans(leg.assessment, leg.side).inputs;
}

void leaveUnknown(Grade& grade, const Leg& leg, RowId rule, Arguments arguments = {}) {
  leaveOpen(grade, AbsentReason::Unknown, sentence(leg.tables, rule, arguments));
}

void leaveBounded(Grade& grade, const Leg& leg, const Basis& basis) {
  leaveUnknown(
      grade, leg, "grade-wifi-ischaemia-bound",
      {{"measure", basis.name}, {"value", basis.value()}, {"grades", text(basis.grades())}});
}

/// Decides, or leaves open what a bound leaves open.
void settleBy(Grade& grade, const Leg& leg, const Basis& basis) {
  if (!basis.decides()) return leaveBounded(grade, leg, basis);
  const IschaemiaRow& row = *basis.worst;
  decide(grade, kOutcomes[static_cast<std::size_t>(row.grade)], row.id, row.source);
  noteBasis(grade, leg, basis);
  say(grade, leg, "grade-wifi-ischaemia-basis", basis);
}

void byToe(Grade& grade, const Leg& leg, const Measures& measures) {
  settleBy(grade, leg, measures.toe);
  if (!grade.present()) return;
  for (const Basis* other : {&measures.index, &measures.ankle, &measures.tcpo2}) {
    sayIfDiffers(grade, leg, "grade-wifi-toe-decides", *other);
  }
}

/// The worse of TcPO2 and what the ankle shows, with what the other one says.
void byWorse(Grade& grade, const Leg& leg, const Measures& measures) {
  const Basis& ankle = measures.shownByAnkle();
  const Basis& worse = worseOf(measures.tcpo2, ankle);
  settleBy(grade, leg, worse);
  if (&worse != &measures.tcpo2) {
    if (measures.hard && worse.decides()) say(grade, leg, "grade-wifi-read-artery", worse);
    sayIfDiffers(grade, leg, "grade-wifi-tcpo2-differs", measures.tcpo2);
    return;
  }
  if (measures.ankleUnreliable() && grade.present()) {
    grade.remarks.push_back(remark(leg.tables, "grade-wifi-tcpo2-instead"));
  }
  if (!measures.hard) sayIfDiffers(grade, leg, "grade-wifi-tcpo2-differs", ankle);
}

/// The toe gave no signal: a milder grade from the ankle must not stand in for it, and TcPO2 only
/// if the ankle is not worse.
void bySilentToe(Grade& grade, const Leg& leg, const Measures& measures) {
  const Basis& ankle = measures.shownByAnkle();
  const bool worstOfAll = ankle.decides() && ankle.worst->grade == 3;
  if (measures.tcpo2.decides() || worstOfAll) return byWorse(grade, leg, measures);
  leaveUnknown(grade, leg, "grade-wifi-toe-silent");
}

void byUnreliableAnkle(Grade& grade, const Leg& leg, const Measures& measures) {
  if (measures.tcpo2.known() || measures.shownByAnkle().known()) {
    byWorse(grade, leg, measures);
  } else if (measures.hard) {
    leaveUnknown(grade, leg, "grade-wifi-ischaemia-hard");
  } else {
    leaveUnknown(grade, leg, "grade-wifi-index-too-high", {{"value", measures.index.value()}});
  }
}

void byCuff(Grade& grade, const Leg& leg, const Measures& measures) {
  const Basis& cuff = measures.shownByAnkle();
  if (cuff.worst->grade == 0 && measures.hardElsewhere) {
    return leaveUnknown(grade, leg, "grade-wifi-ischaemia-hard");
  }
  settleBy(grade, leg, cuff);
  sayIfDiffers(grade, leg, "grade-wifi-worse-of-two", measures.index);
  sayIfDiffers(grade, leg, "grade-wifi-worse-of-two", measures.ankle);
  sayIfDiffers(grade, leg, "grade-wifi-tcpo2-differs", measures.tcpo2);
}

void byAnkle(Grade& grade, const Leg& leg, const Measures& measures) {
  const Basis& cuff = measures.shownByAnkle();
  if (cuff.decides()) return byCuff(grade, leg, measures);
  if (cuff.known() || measures.tcpo2.known()) return byWorse(grade, leg, measures);
  leaveUnknown(
      grade, leg,
      choose(measures.hardElsewhere, "grade-wifi-ischaemia-hard", "grade-wifi-ischaemia-none"));
}

/// Both answers are shown where the lower artery, or the one read beside a hard one, is worse than
/// the higher, whatever the grade rests on.
void remarkLowerArtery(Grade& grade, const Leg& leg, const Measures& measures) {
  const Basis& lower = measures.lower;
  const Basis& higher = worseOf(measures.index, measures.ankle);
  const std::int32_t milder = higher.grades().mildest;
  if (!lower.known() || lower.mildest->grade <= milder || !differs(grade, lower)) return;
  const RowId beside = choose(measures.hard, "grade-wifi-hard-beside", "grade-wifi-lower-artery");
  const bool byToe = measures.toe.known() && grade.present();
  say(grade, leg, byToe ? RowId{"grade-wifi-toe-decides"} : beside, lower);
}

/// The pressure of the ankle, or of the artery read beside a hard one.
void remarkTwiceNamed(Grade& grade, const Leg& leg) {
  const AnkleSpans spans = ankleSpans(leg.assessment, leg.side);
  const std::int32_t edge = figure(leg.tables, "grade-wifi-ankle-edge", "at");
  const auto& ankle = spans.hard ? spans.lower : spans.higher;
  if (!grade.present() || ankle != Span{edge, edge}) return;
  grade.remarks.push_back(
      remark(leg.tables, "grade-wifi-ankle-edge", {{"value", std::to_string(edge)}}));
}

void remarkNotExcluded(Grade& grade, const Leg& leg) {
  if (number(grade) != 0) return;
  const std::string unknown = unknownHistory(leg.assessment);
  if (hardArteriesLikely(leg.assessment)) {
    grade.remarks.push_back(remark(leg.tables, "grade-wifi-not-excluded"));
  } else if (!unknown.empty()) {
    grade.remarks.push_back(remark(leg.tables, "grade-wifi-history-unknown", {{"what", unknown}}));
  }
}

void gradeBy(Grade& grade, const Leg& leg, const Measures& measures) {
  if (measures.toe.known()) {
    byToe(grade, leg, measures);
  } else if (measures.toeSilent) {
    bySilentToe(grade, leg, measures);
  } else if (measures.ankleUnreliable()) {
    byUnreliableAnkle(grade, leg, measures);
  } else {
    byAnkle(grade, leg, measures);
  }
  remarkLowerArtery(grade, leg, measures);
  if (measures.toe.known()) return;
  remarkTwiceNamed(grade, leg);
  remarkNotExcluded(grade, leg);
}

}  // namespace

Grade ischaemiaGrade(const Leg& leg) {
  Grade grade = blankWifi(leg, "wifi-ischaemia");
  const Measures measures = ischaemiaMeasures(leg);
  gradeBy(grade, leg, measures);
  preferStated(grade, leg, Item::StatedIschaemia, measures.left());
  return grade;
}

}  // namespace footbridge::assess
