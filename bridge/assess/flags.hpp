#pragma once
// What a reader of the indices and grades has to know about their reliability, and cautions.

#include <vector>

#include "model/assessment.hpp"
#include "model/findings.hpp"
#include "tables/tables.hpp"

namespace footbridge {

/// Flags of the visit first, then of the right and the left leg.
std::vector<Flag> raiseFlags(const Assessment& assessment, const std::vector<Index>& indices,
                             const Tables& tables);

}  // namespace footbridge
