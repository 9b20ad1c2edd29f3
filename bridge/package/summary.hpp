#pragma once
// The assessment in lines for people: the same lines in the report's conclusion and in its
// narrative.

#include <string>
#include <vector>

#include "core/issue.hpp"
#include "model/assessment.hpp"
#include "model/findings.hpp"
#include "tables/tables.hpp"

namespace footbridge::package {

inline constexpr std::string_view kInShort = "In short";
inline constexpr std::string_view kFlags = "Reliability and safety";

/// What there is to say of one leg or of the visit.
struct SummaryPart {
  std::string title;               ///< kInShort, kFlags, "Right leg", ...
  std::vector<std::string> lines;  ///< whole sentences
};

/// How far it stands, what it is, of when and by whom: "Status: preliminary. Lower-limb arterial
/// assessment of 5 October 2026 10:20. Measured by ... (podiatrist)." The status comes first, since
/// nothing of the rest holds once it is withdrawn.
std::string headline(const Assessment& assessment);

/// Both legs in short, flags, each leg in full, arms and circumstances, queries, the clinician's
/// own note and the cautions. Of an assessment that is withdrawn the note and the cautions only.
std::vector<SummaryPart> summarise(const Assessment& assessment, const Findings& findings,
                                   const Issues& issues, const Tables& tables,
                                   std::string_view ruleSet);

/// The cautions that stand on every report.
const std::vector<std::string>& cautions();

}  // namespace footbridge::package
