// WIfI ischaemia grade. Toe pressure decides where it is known; a milder grade from the ankle never
// replaces it. Without it the worse of index and ankle pressure, or TcPO2 where the ankle cannot be
// relied on. Nothing usable is unknown, never 0 (docs/clinical.md).

#include <algorithm>
#include <array>

#include "assess/grade_schemes.hpp"
#include "assess/pressures.hpp"
#include "assess/sentences.hpp"
#include "tables/thresholds.hpp"

namespace footbridge::assess {
namespace {

constexpr std::array<std::string_view, 4> kOutcomes{"wifi-ischaemia-0", "wifi-ischaemia-1",
                                                    "wifi-ischaemia-2", "wifi-ischaemia-3"};

/// A measure with the rows that its span touches: one row if it decides.
struct Basis {
  std::string_view measure{};
  std::optional<Span> span{};
  const IschaemiaRow* mildest = nullptr;
  const IschaemiaRow* worst = nullptr;

  bool decides() const { return worst != nullptr && mildest->grade == worst->grade; }
  bool known() const { return span.has_value(); }
  std::int32_t grade() const { return worst->grade; }
};

bool touches(const IschaemiaRow& row, const Span& span) {
  return (!row.to || span.lowest <= *row.to) &&
         (!row.from || !span.highest || *span.highest >= *row.from);
}

Basis basis(const Leg& leg, std::string_view measure, const std::optional<Span>& span) {
  Basis out{.measure = measure, .span = span};
  if (!span) return out;
  for (const IschaemiaRow& row : leg.tables.wifi.ischaemia) {
    if (row.measure != measure || !touches(row, *span)) continue;
    if (out.mildest == nullptr || row.grade < out.mildest->grade) out.mildest = &row;
    if (out.worst == nullptr || row.grade > out.worst->grade) out.worst = &row;
  }
  return out;
}

std::optional<Span> indexSpan(const Leg& leg, IndexKind kind) {
  const auto value = leg.hundredths(kind);
  return value ? std::optional{Span{*value, *value}} : std::nullopt;
}

/// Everything the grade can rest on.
struct Measures {
  Basis toe;
  Basis tcpo2;
  Basis index;
  Basis ankle;
  Basis lowerAnkle;            ///< of two arteries, or the one read beside a hard one
  bool hard = false;           ///< of the arteries that the ankle pressure is taken from
  bool hardElsewhere = false;  ///< toe, peroneal or anterior tibial
  bool toeSilent = false;
  bool indexTooHigh = false;

  bool ankleUnreliable() const { return hard || indexTooHigh; }
};

bool hardBesideTheAnkle(const Leg& leg) {
  static constexpr std::array kOthers{Item::ToePressure, Item::AnklePeroneal,
                                      Item::AnkleAnteriorTibial};
  return std::any_of(kOthers.begin(), kOthers.end(),
                     [&leg](Item item) { return stateOf(leg.find(item)) == PressureState::Hard; });
}

Measures measuresOf(const Leg& leg) {
  const AnkleSpans spans = ankleSpans(leg.assessment, leg.side);
  const auto index = leg.hundredths(IndexKind::Abi);
  return {
      .toe = basis(leg, "toe", toeSpan(leg)),
      .tcpo2 = basis(leg, "tcpo2", tcpo2Span(leg)),
      .index = basis(leg, "abi", indexSpan(leg, IndexKind::Abi)),
      .ankle = basis(leg, "ankle", spans.higher),
      .lowerAnkle = basis(leg, "ankle", spans.lower),
      .hard = spans.hard,
      .hardElsewhere = hardBesideTheAnkle(leg),
      .toeSilent = noSignal(leg.find(Item::ToePressure)),
      .indexTooHigh = index && *index > figure(leg.tables, "grade-wifi-index-too-high", "above")};
}

const Basis& worseOf(const Basis& first, const Basis& second) {
  if (!first.decides()) return second;
  if (!second.decides()) return first;
  return second.grade() > first.grade() ? second : first;
}

const Basis& cuff(const Measures& measures) { return worseOf(measures.index, measures.ankle); }

std::string valueText(const Basis& basis) {
  if (basis.measure == "abi") return hundredthsText(basis.span->lowest);
  return text(*basis.span) + " mmHg";
}

void say(Grade& grade, const Leg& leg, RowId rule, const Basis& basis) {
  grade.remarks.push_back(remark(leg.tables, rule,
                                 {{"measure", measureName(basis.measure)},
                                  {"value", valueText(basis)},
                                  {"grade", std::to_string(basis.grade())}}));
}

void sayIfDiffers(Grade& grade, const Leg& leg, RowId rule, const Basis& basis) {
  if (basis.decides() && basis.grade() != number(grade)) say(grade, leg, rule, basis);
}

void noteBasis(Grade& grade, const Leg& leg, const Basis& basis) {
  if (basis.measure == "toe") noteInputs(grade, leg, {Item::ToePressure});
  if (basis.measure == "tcpo2") noteInputs(grade, leg, {Item::Tcpo2});
  if (basis.measure == "abi") grade.indices.push_back({IndexKind::Abi, leg.side});
  if (basis.measure == "ankle") grade.inputs = ankleSpans(leg.assessment, leg.side).inputs;
}

void decideBy(Grade& grade, const Leg& leg, const Basis& basis) {
  const IschaemiaRow& row = *basis.worst;
  decide(grade, kOutcomes[static_cast<std::size_t>(row.grade)], row.id, row.source);
  noteBasis(grade, leg, basis);
  say(grade, leg, "grade-wifi-ischaemia-basis", basis);
}

void remarkTwiceNamed(Grade& grade, const Leg& leg, const Basis& ankle) {
  const std::int32_t edge = figure(leg.tables, "grade-wifi-ankle-edge", "at");
  if (!ankle.known() || *ankle.span != Span{edge, edge}) return;
  grade.remarks.push_back(
      remark(leg.tables, "grade-wifi-ankle-edge", {{"value", std::to_string(edge)}}));
}

void leaveUnknown(Grade& grade, const Leg& leg, RowId rule, Arguments arguments = {}) {
  leaveOpen(grade, AbsentReason::Unknown, sentence(leg.tables, rule, arguments));
}

void leaveBounded(Grade& grade, const Leg& leg, const Basis& basis) {
  leaveUnknown(grade, leg, "grade-wifi-ischaemia-bound",
               {{"measure", measureName(basis.measure)},
                {"value", valueText(basis)},
                {"mildest", std::to_string(basis.mildest->grade)},
                {"worst", std::to_string(basis.worst->grade)}});
}

void byToe(Grade& grade, const Leg& leg, const Measures& measures) {
  if (!measures.toe.decides()) {
    leaveBounded(grade, leg, measures.toe);
    return;
  }
  decideBy(grade, leg, measures.toe);
  for (const Basis* other : {&measures.index, &measures.ankle, &measures.tcpo2}) {
    sayIfDiffers(grade, leg, "grade-wifi-toe-decides", *other);
  }
}

/// The toe gave no signal: a milder grade from the ankle must not stand in for it, and TcPO2 only
/// if the ankle is not worse.
void bySilentToe(Grade& grade, const Leg& leg, const Measures& measures) {
  const Basis& ankle = measures.ankleUnreliable() ? Basis{} : cuff(measures);
  const Basis& worse = worseOf(measures.tcpo2, ankle);
  const bool worstOfAll = worse.decides() && worse.grade() == 3;
  if (!measures.tcpo2.decides() && !worstOfAll) {
    leaveUnknown(grade, leg, "grade-wifi-toe-silent");
    return;
  }
  decideBy(grade, leg, worse);
  sayIfDiffers(grade, leg, "grade-wifi-tcpo2-differs", measures.tcpo2);
  sayIfDiffers(grade, leg, "grade-wifi-tcpo2-differs", ankle);
}

/// Only the artery beside a hard one was read: it can show ischaemia but not exclude it.
void byReadArtery(Grade& grade, const Leg& leg, const Basis& read) {
  if (!read.decides() || read.grade() == 0) {
    leaveUnknown(grade, leg, "grade-wifi-ischaemia-hard");
    return;
  }
  decideBy(grade, leg, read);
  say(grade, leg, "grade-wifi-read-artery", read);
}

void byUnreliableAnkle(Grade& grade, const Leg& leg, const Measures& measures) {
  if (measures.tcpo2.decides()) {
    decideBy(grade, leg, measures.tcpo2);
    grade.remarks.push_back(remark(leg.tables, "grade-wifi-tcpo2-instead"));
    if (measures.hard) sayIfDiffers(grade, leg, "grade-wifi-hard-beside", measures.lowerAnkle);
  } else if (measures.hard) {
    byReadArtery(grade, leg, measures.lowerAnkle);
  } else {
    leaveUnknown(grade, leg, "grade-wifi-index-too-high", {{"value", valueText(measures.index)}});
  }
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

void byCuff(Grade& grade, const Leg& leg, const Measures& measures) {
  if (cuff(measures).grade() == 0 && measures.hardElsewhere) {
    leaveUnknown(grade, leg, "grade-wifi-ischaemia-hard");
    return;
  }
  decideBy(grade, leg, cuff(measures));
  sayIfDiffers(grade, leg, "grade-wifi-worse-of-two", measures.index);
  sayIfDiffers(grade, leg, "grade-wifi-worse-of-two", measures.ankle);
  sayIfDiffers(grade, leg, "grade-wifi-lower-artery", measures.lowerAnkle);
  sayIfDiffers(grade, leg, "grade-wifi-tcpo2-differs", measures.tcpo2);
  remarkTwiceNamed(grade, leg, measures.ankle);
}

void byWhatIsLeft(Grade& grade, const Leg& leg, const Measures& measures) {
  if (measures.tcpo2.decides()) {
    decideBy(grade, leg, measures.tcpo2);
  } else if (measures.ankle.known()) {
    leaveBounded(grade, leg, measures.ankle);
  } else if (measures.tcpo2.known()) {
    leaveBounded(grade, leg, measures.tcpo2);
  } else {
    leaveUnknown(
        grade, leg,
        choose(measures.hardElsewhere, "grade-wifi-ischaemia-hard", "grade-wifi-ischaemia-none"));
  }
}

void gradeBy(Grade& grade, const Leg& leg, const Measures& measures) {
  if (measures.toe.known()) {
    byToe(grade, leg, measures);
  } else if (measures.toeSilent) {
    bySilentToe(grade, leg, measures);
  } else if (measures.ankleUnreliable()) {
    byUnreliableAnkle(grade, leg, measures);
  } else if (!cuff(measures).decides()) {
    byWhatIsLeft(grade, leg, measures);
  } else {
    byCuff(grade, leg, measures);
  }
  if (!measures.toe.known()) remarkNotExcluded(grade, leg);
}

}  // namespace

Grade ischaemiaGrade(const Leg& leg) {
  Grade grade = blankWifi(leg, "wifi-ischaemia");
  gradeBy(grade, leg, measuresOf(leg));
  preferStated(grade, leg, Item::StatedIschaemia);
  return grade;
}

}  // namespace footbridge::assess
