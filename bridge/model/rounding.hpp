#pragma once
// What is kept of a pressure that falls between half millimetres: one that was sent in kilopascals,
// or the mean of repeats.

#include <cstdint>

#include "model/assessment.hpp"

namespace footbridge {

/// Half millimetres out of `numerator`/`denominator` of them. Whole millimetres stay as far as they
/// were reached, and of what is left more than a quarter counts as a half: 59.75 and 59.9 are kept
/// as 59.5, so that a threshold in whole millimetres is answered as by the exact figure. The arm is
/// what others are divided by: to the nearest half, ties up, so that no index rises by it.
Pressure inHalves(std::int64_t numerator, std::int64_t denominator, Item item);

/// Kilopascals by the factor of UCUM (1 mm[Hg] = 0.133322 kPa). Not for negative figures.
Pressure fromKilopascals(const Decimal& kilopascals, Item item);

}  // namespace footbridge
