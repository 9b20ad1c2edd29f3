#pragma once
// The Observations of a bundle: readings, indices, grades, flags and the panel of each leg.

#include <string>

#include "package/sheet.hpp"

namespace footbridge::package {

/// Appends the entries of all Observations that the sheet marks as written, a comma after each.
void appendObservations(std::string& out, const Sheet& sheet);

}  // namespace footbridge::package
