#include "assess/wifi_ischaemia_measures.hpp"

#include <algorithm>
#include <array>

#include "assess/pressures.hpp"
#include "assess/sentences.hpp"
#include "tables/thresholds.hpp"

namespace footbridge::assess {
namespace {

constexpr std::string_view kLowerArtery = "lower ankle artery";
constexpr std::string_view kReadArtery = "ankle artery that was read";
constexpr Basis kNothing{};

bool touches(const IschaemiaRow& row, const Span& span) {
  return (!row.to || span.lowest <= *row.to) &&
         (!row.from || !span.highest || *span.highest >= *row.from);
}

Basis basis(const Leg& leg, std::string_view measure, const std::optional<Span>& span) {
  Basis out{.measure = measure, .name = measureName(measure), .span = span};
  if (!span) return out;
  for (const IschaemiaRow& row : leg.tables.wifi.ischaemia) {
    if (row.measure != measure || !touches(row, *span)) continue;
    if (out.mildest == nullptr || row.grade < out.mildest->grade) out.mildest = &row;
    if (out.worst == nullptr || row.grade > out.worst->grade) out.worst = &row;
  }
  return out;
}

Basis indexBasis(const Leg& leg, IndexKind kind) {
  const auto value = leg.hundredths(kind);
  Basis out = basis(leg, "abi", value ? std::optional{Span{*value, *value}} : std::nullopt);
  out.index = kind;
  return out;
}

/// The index of the artery that was read beside a hard one; else of the lower of two.
IndexKind lowerIndex(const Leg& leg, bool hard) {
  if (!hard) return IndexKind::AbiLowAnkle;
  const bool dorsalis = leg.hundredths(IndexKind::AbiDorsalisPedis).has_value();
  return dorsalis ? IndexKind::AbiDorsalisPedis : IndexKind::AbiPosteriorTibial;
}

Basis lowerBasis(const Leg& leg, const AnkleSpans& spans) {
  Basis lower =
      worseOf(basis(leg, "ankle", spans.lower), indexBasis(leg, lowerIndex(leg, spans.hard)));
  lower.name = spans.hard ? kReadArtery : kLowerArtery;
  return lower;
}

bool hardBesideTheAnkle(const Leg& leg) {
  static constexpr std::array kOthers{Item::ToePressure, Item::AnklePeroneal,
                                      Item::AnkleAnteriorTibial};
  return std::any_of(kOthers.begin(), kOthers.end(),
                     [&leg](Item item) { return stateOf(leg.find(item)) == PressureState::Hard; });
}

}  // namespace

GradeRange Basis::grades() const {
  return known() ? GradeRange{mildest->grade, worst->grade} : GradeRange{};
}

std::string Basis::value() const {
  if (!index) return mmhgText(*span);
  const std::string text = hundredthsText(span->lowest);
  return *index == IndexKind::Abi ? text : "index " + text;
}

const Basis& worseOf(const Basis& first, const Basis& second) {
  if (!first.known()) return second;
  if (!second.known()) return first;
  if (first.mildest->grade != second.mildest->grade) {
    return first.mildest->grade > second.mildest->grade ? first : second;
  }
  return first.decides() ? first : second;
}

const Basis& IschaemiaMeasures::shownByAnkle() const {
  if (!ankleUnreliable()) return worseOf(index, ankle);
  return hard && lower.known() && lower.mildest->grade > 0 ? lower : kNothing;
}

GradeRange IschaemiaMeasures::left() const {
  if (toe.known()) return toe.grades();
  const GradeRange range = worseOf(tcpo2, shownByAnkle()).grades();
  const bool couldBeWorse = toeSilent || ankleUnreliable() || hardElsewhere;
  return couldBeWorse ? GradeRange{range.mildest} : range;
}

IschaemiaMeasures ischaemiaMeasures(const Leg& leg) {
  const AnkleSpans spans = ankleSpans(leg.assessment, leg.side);
  const auto index = leg.hundredths(IndexKind::Abi);
  return {
      .toe = basis(leg, "toe", toeSpan(leg)),
      .tcpo2 = basis(leg, "tcpo2", tcpo2Span(leg)),
      .index = indexBasis(leg, IndexKind::Abi),
      .ankle = basis(leg, "ankle", spans.higher),
      .lower = lowerBasis(leg, spans),
      .hard = spans.hard,
      .hardElsewhere = hardBesideTheAnkle(leg),
      .toeSilent = noSignal(leg.find(Item::ToePressure)),
      .indexTooHigh = index && *index > figure(leg.tables, "grade-wifi-index-too-high", "above")};
}

}  // namespace footbridge::assess
