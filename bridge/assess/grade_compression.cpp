// What published texts say about compression by the ankle-brachial index: text with its cautions,
// never an order. Given for legs with a wound at the ankle or the lower leg only, and not at all
// where the index is missing, high, or taken otherwise than by the method.

#include <algorithm>

#include "assess/grade_schemes.hpp"
#include "assess/pressures.hpp"
#include "assess/sentences.hpp"

namespace footbridge::assess {
namespace {

/// Wounds of the foot are outside what the texts are about.
bool legUlcer(const Leg& leg) {
  const std::string_view depth = leg.word(Item::WoundDepth);
  const std::string_view site = leg.word(Item::WoundSite);
  return !depth.empty() && depth != "none" && (site == "ankle" || site == "lower-leg");
}

bool anyHard(const Leg& leg) {
  return incompressible(leg.find(Item::AnkleDorsalisPedis)) ||
         incompressible(leg.find(Item::AnklePosteriorTibial)) ||
         incompressible(leg.find(Item::AnklePeroneal)) ||
         incompressible(leg.find(Item::AnkleAnteriorTibial));
}

/// Why nothing is said at all; "" if something can be.
std::string whyNot(const Leg& leg, const Index* index) {
  if (index == nullptr || !index->hundredths) {
    return sentence(leg.tables, "grade-compression-none",
                    {{"why", index == nullptr ? "" : index->because}});
  }
  if (anyHard(leg)) return sentence(leg.tables, "grade-compression-hard");
  const std::string_view posture = visitWord(leg.assessment, Item::Posture);
  if (posture.empty() || posture == "supine") return {};
  return sentence(leg.tables, "grade-compression-posture", {{"posture", posture}});
}

void remarkToe(Grade& grade, const Leg& leg) {
  if (noSignal(leg.find(Item::ToePressure))) {
    grade.remarks.push_back(remark(leg.tables, "grade-compression-toe-silent"));
  }
  const auto toe = toeSpan(leg);
  const std::int32_t low = figure(leg.tables, "grade-compression-toe", "below");
  if (toe && allBelow(*toe, low)) {
    grade.remarks.push_back(remark(leg.tables, "grade-compression-toe",
                                   {{"value", mmhgText(*toe)}, {"bound", std::to_string(low)}}));
  }
  const auto index = highestToeIndex(leg);
  const std::int32_t abnormal = figure(leg.tables, "grade-compression-tbi", "to");
  if (!index || *index > abnormal) return;
  grade.remarks.push_back(
      remark(leg.tables, "grade-compression-tbi",
             {{"value", toeIndexText(leg, *index)}, {"bound", hundredthsText(abnormal)}}));
}

/// What else was found that speaks of arterial disease whatever the index.
void remarkAgainst(Grade& grade, const Leg& leg) {
  remarkToe(grade, leg);
  std::vector<std::string> names;
  for (const Item item : abnormalAnkleSounds(leg)) {
    names.push_back(leg.tables.naming(item, leg.side));
  }
  if (!names.empty()) {
    grade.remarks.push_back(
        remark(leg.tables, "grade-compression-waveform", {{"readings", listing(names)}}));
  }
  const auto ischaemia = number(ischaemiaGrade(leg));
  if (!ischaemia || *ischaemia < figure(leg.tables, "grade-compression-ischaemia", "from")) return;
  grade.remarks.push_back(
      remark(leg.tables, "grade-compression-ischaemia", {{"grade", std::to_string(*ischaemia)}}));
}

/// What nobody recorded and may speak against it.
void remarkUnknown(Grade& grade, const Leg& leg) {
  const std::string history = unknownHistory(leg.assessment);
  if (!history.empty() && !toeSpan(leg)) {
    grade.remarks.push_back(
        remark(leg.tables, "grade-compression-history-unknown", {{"what", history}}));
  }
  if (visitWord(leg.assessment, Item::Posture).empty()) {
    grade.remarks.push_back(remark(leg.tables, "grade-compression-posture-unknown"));
  }
}

/// What is recorded of the leg and speaks against relying on the index.
void remarkCautions(Grade& grade, const Leg& leg, const Index& index) {
  const auto add = [&](std::string_view rule) {
    grade.remarks.push_back(remark(leg.tables, rule));
  };
  add("grade-compression-caution");
  const Answer pain = restPain(leg);
  if (pain == Answer::Yes) add("grade-compression-rest-pain");
  if (pain == Answer::Unknown) add("grade-compression-rest-pain-unknown");
  if (leg.word(Item::Claudication) == "present") add("grade-compression-claudication");
  if (hardArteriesLikely(leg.assessment)) add("grade-compression-stiff");
  if (visitWord(leg.assessment, Item::PressureMethod) == "automated") {
    add("grade-compression-automated");
  }
  for (const Remark& marked : index.remarks) {
    if (leg.tables.rule(marked.rule).severity != Severity::Warning) continue;
    grade.remarks.push_back(
        remark(leg.tables, "grade-compression-provisional", {{"remark", marked.text}}));
  }
}

/// Where the lower artery lies in a lower class, both are shown.
void remarkLower(Grade& grade, const Leg& leg, const RuleSet& text, const Band& band) {
  const auto lower = leg.hundredths(IndexKind::AbiLowAnkle);
  const Band* other = lower ? bandOf(text.abi, *lower) : nullptr;
  if (other == nullptr || other->id == band.id) return;
  grade.remarks.push_back(remark(leg.tables, "grade-compression-lower-artery",
                                 {{"value", hundredthsText(*lower)}, {"wording", other->wording}}));
}

Grade compressionGrade(const Leg& leg, const RuleSet& text) {
  Grade grade = blank(leg, "compression-band", text.id);
  grade.source = text.source.text;
  grade.certainty = text.source.certainty;
  grade.indices = {{IndexKind::Abi, leg.side}};
  const Index* index = leg.index(IndexKind::Abi);
  const std::string why = whyNot(leg, index);
  if (!why.empty()) {
    leaveOpen(grade, index == nullptr ? AbsentReason::Unknown : index->reason, why);
    return grade;
  }
  const Band& band = *bandOf(text.abi, *index->hundredths);
  const std::string value = hundredthsText(*index->hundredths);
  decide(grade, band.outcome, band.id, band.source);
  if (band.outcome.empty()) {
    leaveOpen(grade, AbsentReason::NotApplicable,
              sentence(leg.tables, "grade-compression-high",
                       {{"value", value}, {"wording", band.wording}}));
  } else {
    grade.remarks.push_back(remark(
        leg.tables, "grade-compression-text",
        {{"value", value}, {"wording", band.wording}, {"certainty", band.source.certainty}}));
    remarkLower(grade, leg, text, band);
    remarkCautions(grade, leg, *index);
    remarkAgainst(grade, leg);
    remarkUnknown(grade, leg);
  }
  remarkEdge(grade, band, *index->hundredths, leg.tables.rule("grade-compression-edge"));
  return grade;
}

}  // namespace

void addCompressionGrades(const Leg& leg, std::vector<Grade>& grades) {
  if (!legUlcer(leg)) return;
  for (const RuleSet& text : leg.tables.compression) {
    grades.push_back(compressionGrade(leg, text));
  }
}

}  // namespace footbridge::assess
