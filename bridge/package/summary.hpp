#pragma once
// The assessment in a few lines for people: the same lines in the report's conclusion, in its
// narrative and on the terminal.

#include <string>
#include <vector>

#include "core/issue.hpp"
#include "model/assessment.hpp"
#include "model/findings.hpp"
#include "tables/tables.hpp"

namespace footbridge::package {

/// What there is to say of one leg or of the visit.
struct SummaryPart {
  std::string title;               ///< "Right leg", "Left leg", "Reliability and safety", "Queries"
  std::vector<std::string> lines;  ///< whole sentences
};

/// Indices, classes of the rule set, threatened-limb grades, criteria, flags and queries.
std::vector<SummaryPart> summarise(const Assessment& assessment, const Findings& findings,
                                   const Issues& issues, const Tables& tables,
                                   std::string_view ruleSet);

/// The cautions that stand on every report.
const std::vector<std::string>& cautions();

}  // namespace footbridge::package
