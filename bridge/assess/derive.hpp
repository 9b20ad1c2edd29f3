#pragma once
// Indices and differences from the readings: exact ratios, rounded once.

#include <vector>

#include "model/assessment.hpp"
#include "model/findings.hpp"
#include "tables/tables.hpp"

namespace footbridge {

/// Every kind of index on every side it applies to, in the order of IndexKind and right before
/// left; those that cannot be given are there with their reason. Readings are taken as they are:
/// what validate() refuses must not come here, what it queries does.
std::vector<Index> deriveIndices(const Assessment& assessment, const Tables& tables);

}  // namespace footbridge
