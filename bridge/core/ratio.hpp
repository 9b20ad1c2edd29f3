#pragma once
// Exact ratios of pressures. An index is rounded once, half up, to two decimals and the rounded
// value is what is graded, so that what a reader sees and the class agree: published survey indices
// are half-up in all 8,729 strict rows (NHANES 2001-2004, see docs/clinical.md).

#include <cassert>
#include <cstdint>

namespace footbridge {

/// `num` / `den`, both positive, same unit.
struct Ratio {
  std::int64_t num = 0;
  std::int64_t den = 1;

  bool operator==(const Ratio&) const = default;
};

/// Rounded half up to hundredths: 164/160 = 1.025 gives 103. Integers only, since a double gives
/// 102.
constexpr std::int64_t hundredths(Ratio ratio) {
  assert(ratio.num >= 0 && ratio.den > 0);
  return (200 * ratio.num + ratio.den) / (2 * ratio.den);
}

}  // namespace footbridge
