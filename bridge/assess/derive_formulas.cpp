// Ankle-brachial indices by other published formulas. Each has a name of its own, so that none is
// read as the usual index.

#include <algorithm>
#include <cstdlib>

#include "assess/derive_parts.hpp"
#include "assess/sentences.hpp"

namespace footbridge::assess {
namespace {

constexpr RowId kMeanArms{"derive-method-mean-arms"};

/// The ratio of two sums of two pressures each, shown by the means where they are halves.
Ratio ratioOfSums(std::int64_t numerator, std::int64_t denominator) {
  const bool even = numerator % 2 == 0 && denominator % 2 == 0;
  return even ? Ratio{numerator / 2, denominator / 2} : Ratio{numerator, denominator};
}

/// getABI: the mean of the arms hides a stenosis in one of them, so it gives way to the higher arm
/// where they differ much.
Index overMeanArms(Side side, const Chosen& ankle, const Chosen& right, const Chosen& left,
                   const Tables& tables) {
  Index index = indexFrom(IndexKind::AbiMeanArms, side, {&ankle, &right, &left});
  if (!allKnown({&ankle, &right, &left})) return index;
  const std::int32_t apart = figure(tables, kMeanArms, "apart");
  const std::int32_t difference = std::abs(right.pressure->halves - left.pressure->halves);
  const bool far = difference >= Pressure::mmhg(apart).halves;
  const std::int32_t higher = std::max(right.pressure->halves, left.pressure->halves);
  const std::int32_t sum = right.pressure->halves + left.pressure->halves;
  putRatio(index, far ? Ratio{ankle.pressure->halves, higher}
                      : ratioOfSums(2 * std::int64_t{ankle.pressure->halves}, sum));
  index.method = sentence(tables, far ? "derive-method-arms-apart" : kMeanArms,
                          {{"ankle", ankle.method}, {"apart", std::to_string(apart)}});
  return index;
}

Index byMeanAnkle(const Assessment& assessment, Side side, const Chosen& right, const Chosen& left,
                  const Tables& tables) {
  const Chosen dorsal = onePressure(assessment, Item::AnkleDorsalisPedis, side, tables);
  const Chosen tibial = onePressure(assessment, Item::AnklePosteriorTibial, side, tables);
  Index index = indexFrom(IndexKind::AbiMeanAnkle, side, {&dorsal, &tibial, &right, &left});
  if (!allKnown({&dorsal, &tibial, &right, &left})) return index;
  putRatio(index, ratioOfSums(dorsal.pressure->halves + tibial.pressure->halves,
                              right.pressure->halves + left.pressure->halves));
  index.method = sentence(tables, "derive-method-mean-ankle");
  return index;
}

}  // namespace

std::vector<Index> otherFormulas(const Assessment& assessment, Side side, const Chosen& ankle,
                                 const Tables& tables) {
  const Chosen right = onePressure(assessment, Item::ArmSystolic, Side::Right, tables);
  const Chosen left = onePressure(assessment, Item::ArmSystolic, Side::Left, tables);
  return {overMeanArms(side, ankle, right, left, tables),
          byMeanAnkle(assessment, side, right, left, tables)};
}

}  // namespace footbridge::assess
