#pragma once
// One reading out of its JSON: a bare number or word, or an object that says more.

#include <optional>

#include "intake/node.hpp"
#include "model/assessment.hpp"

namespace footbridge::intake {

/// The reading, or nothing and the issues that say why (docs/input.md, "Readings").
std::optional<Reading> readReading(const Node& node, const ItemRow& row, Side side);

/// kPa as whole mmHg, rounded half up, with UCUM's 1 mm[Hg] = 0.133322 kPa. Not for negative
/// figures.
std::int64_t mmhgFromKilopascals(const Decimal& kilopascals);

}  // namespace footbridge::intake
