#pragma once
// What is said of the thresholds of published definitions.

#include <array>
#include <string_view>

#include "tables/ids.hpp"
#include "tables/tables.hpp"

namespace footbridge {

/// The rows of rules.json for an answer to a threshold, in the order of Threshold::says.
inline constexpr std::array<RowId, 4> kThresholdRules{
    "grade-clti-measure-met", "grade-clti-measure-unmet", "grade-clti-measure-undecided",
    "grade-clti-measure-missing"};

/// "toe pressure" of "toe".
std::string_view measureName(std::string_view measure);

/// Puts into the sentences of those rows what is the same in every visit.
void sayThresholds(Tables& tables);

}  // namespace footbridge
