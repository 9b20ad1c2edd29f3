#pragma once
// Everything that follows from an assessment that was not refused.
//
//   const Findings findings = findOut(assessment, tables);

#include "model/assessment.hpp"
#include "model/findings.hpp"
#include "tables/tables.hpp"

namespace footbridge {

/// Indices, grades and flags. Depends on nothing but its arguments.
Findings findOut(const Assessment& assessment, const Tables& tables);

/// The same in two steps, for who needs only the indices at first: grades and flags from indices
/// that deriveIndices() made of this assessment.
void complete(Findings& findings, const Assessment& assessment, const Tables& tables);

}  // namespace footbridge
