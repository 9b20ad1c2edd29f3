#pragma once
// Whether an assessment can be right: limits, entry errors, contradictions, identity, dates, gaps.
// Every sentence and figure is a row of mapping/rules.json, every bound one of mapping/items.json.
//
//   Issues issues = validate(assessment, now, tables);
//   if (blocking(issues)) return issues;  // an error is a value that cannot be right
//
// Nothing here mends, drops or fills in a reading.

#include <vector>

#include "core/issue.hpp"
#include "core/time.hpp"
#include "model/assessment.hpp"
#include "model/findings.hpp"
#include "tables/tables.hpp"

namespace footbridge {

/// All that can be said about the readings before anything is derived from them, all at once. `now`
/// is the caller's clock, against which dates are held.
Issues validate(const Assessment& assessment, const Instant& now, const Tables& tables);

/// The limits on what was derived. Places point at the reading from the leg.
Issues validateIndices(const std::vector<Index>& indices, const Assessment& assessment,
                       const Tables& tables);

}  // namespace footbridge
