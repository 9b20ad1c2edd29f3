// How much pressure falls from one level of the leg to the next.

#include "assess/derive_parts.hpp"
#include "assess/sentences.hpp"

namespace footbridge::assess {
namespace {

Index gradient(IndexKind kind, Side side, const Chosen& upper, const Chosen& lower,
               const Tables& tables) {
  Index index = indexFrom(kind, side, {&upper, &lower});
  if (!allKnown({&upper, &lower})) return index;
  index.difference = Pressure{upper.pressure->halves - lower.pressure->halves};
  index.method =
      sentence(tables, "derive-method-segment", {{"upper", upper.method}, {"lower", lower.method}});
  return index;
}

/// With three cuffs one wide cuff stands for the thigh. A low thigh that was tried and gave nothing
/// is not passed over.
Chosen thigh(const Assessment& assessment, Side side, const Chosen& high, const Chosen& low,
             const Tables& tables) {
  const bool lowTried = assessment.find(Item::SegmentLowThigh, side) != nullptr;
  if (lowTried || !high.pressure) return low;
  Chosen chosen = high;
  chosen.remarks.push_back(remark(tables, "derive-high-thigh-used"));
  return chosen;
}

}  // namespace

std::vector<Index> segmentGradients(const Assessment& assessment, Side side, const Chosen& ankle,
                                    const Tables& tables) {
  const Chosen high = onePressure(assessment, Item::SegmentHighThigh, side, tables);
  const Chosen low = onePressure(assessment, Item::SegmentLowThigh, side, tables);
  const Chosen calf = onePressure(assessment, Item::SegmentCalf, side, tables);
  return {gradient(IndexKind::ThighGradient, side, high, low, tables),
          gradient(IndexKind::ThighCalfGradient, side, thigh(assessment, side, high, low, tables),
                   calf, tables),
          gradient(IndexKind::CalfAnkleGradient, side, calf, ankle, tables)};
}

}  // namespace footbridge::assess
