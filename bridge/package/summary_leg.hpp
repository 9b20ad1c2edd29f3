#pragma once
// One leg in lines for people, the most important ones first.

#include <array>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "model/assessment.hpp"
#include "model/findings.hpp"
#include "tables/tables.hpp"

namespace footbridge::package {

/// A leg and what there is to say of it. `ruleSet` classes the indices.
struct LegFindings {
  const Assessment& assessment;
  const Findings& findings;
  const Tables& tables;
  std::string_view ruleSet;
  Side side;
};

/// The two indices that every leg is asked for, each with the scheme that classes it.
inline constexpr std::array<std::pair<IndexKind, std::string_view>, 2> kMainIndices{
    {{IndexKind::Abi, "abi-band"}, {IndexKind::Tbi, "tbi-band"}}};

/// "0.79, abnormal"; the index has to be there.
std::string classed(const LegFindings& leg, const Index& index, std::string_view scheme);

/// One more entry of a list, joined from its parts.
template <class... Parts>
void addTo(std::string& list, const Parts&... parts) {
  if (!list.empty()) list += "; ";
  (list.append(parts), ...);
}

/// The readings of a side from the one item to the other, each as told(): "" if there are none.
std::string toldOf(const Assessment& assessment, const Tables& tables, Side side, Item first,
                   Item last);

/// "ankle-brachial index 0.79, abnormal; no toe-brachial index; WIfI 1-?-0, no stage; ...".
std::string inShort(const LegFindings& leg);

/// Indices and how far they can be trusted, threatened-limb grades, criteria and stages, each with
/// the warnings on it, then what was read.
std::vector<std::string> linesOf(const LegFindings& leg);

}  // namespace footbridge::package
