#pragma once
// What would change a result: found by trying, not by reading the tables a second time, so that it
// holds for every scheme, present and future.

#include <cstdint>
#include <string_view>
#include <vector>

#include "model/assessment.hpp"
#include "model/findings.hpp"
#include "tables/tables.hpp"

namespace footbridge {

/// The nearest value of one reading, upward or downward, at which a grade would be another while
/// everything else stays as it was read.
struct Turn {
  Reading reading;           ///< with the value at which it turns
  std::int32_t steps = 0;    ///< how far that is: mmHg, or units of the reading's last digit
  std::string_view outcome;  ///< what the grade would be, "" if it could not be graded
};

/// How far from what was read is looked.
constexpr std::int32_t kTurnReach = 60;

/// The turns of each grade, in the order of `findings.grades`, nearest first. Only plain numbers
/// are moved: a bound, a finding or a word has no next value.
std::vector<std::vector<Turn>> turningPoints(const Assessment& assessment, const Findings& findings,
                                             const Tables& tables);

}  // namespace footbridge
