#pragma once
// One reading out of its JSON: a bare number or word, or an object that says more.

#include <optional>

#include "intake/node.hpp"
#include "model/assessment.hpp"

namespace footbridge::intake {

/// The reading, or nothing and the issues that say why (docs/input.md, "Readings").
std::optional<Reading> readReading(const Node& node, const ItemRow& row, Side side);

}  // namespace footbridge::intake
