#pragma once
// Classes of published schemes from readings and indices.

#include <vector>

#include "model/assessment.hpp"
#include "model/findings.hpp"
#include "tables/tables.hpp"

namespace footbridge {

/// For each leg, right before left: the class of its indices by every rule set that states one, the
/// pressure criterion of every definition of limb-threatening ischaemia, WIfI, and the class of
/// each Doppler reading. What cannot be graded is there with the reason and never reads as normal.
std::vector<Grade> gradeFindings(const Assessment& assessment, const std::vector<Index>& indices,
                                 const Tables& tables);

}  // namespace footbridge
