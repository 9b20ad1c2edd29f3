#pragma once
// A FHIR Quantity as the parts of a reading.

#include <string>

#include "fhir/draft.hpp"

namespace footbridge::fhir {

/// Puts value, unit and comparator below the pointer of a reading. A figure without a unit is
/// refused, since it might be of another one.
void putQuantity(Draft& draft, const std::string& pointer, const json::Value& quantity,
                 const ItemRow& row, const std::string& place);

/// The unit as the input format spells it, "" if the quantity has none.
std::string unitOf(const json::Value& quantity);

}  // namespace footbridge::fhir
