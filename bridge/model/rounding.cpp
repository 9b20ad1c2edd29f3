#include "model/rounding.hpp"

namespace footbridge {

Pressure inHalves(std::int64_t numerator, std::int64_t denominator, Item item) {
  if (item <= Item::ArmSystolicAfterExercise) {
    return {static_cast<std::int32_t>((2 * numerator + denominator) / (2 * denominator))};
  }
  const std::int64_t whole = numerator / (2 * denominator);
  const std::int64_t left = numerator - 2 * whole * denominator;
  return {static_cast<std::int32_t>(2 * whole + (2 * left > denominator ? 1 : 0))};
}

Pressure fromKilopascals(const Decimal& kilopascals, Item item) {
  // digits / 10^scale kPa divided by half of 0.133322 kPa, as one fraction of whole numbers.
  std::int64_t denominator = 133'322;
  for (int i = 0; i < kilopascals.scale; ++i) denominator *= 10;
  return inHalves(kilopascals.digits * 2'000'000, denominator, item);
}

}  // namespace footbridge
