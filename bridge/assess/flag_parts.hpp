#pragma once
// The two groups of flags; flags.cpp puts them together.

#include <vector>

#include "assess/leg.hpp"
#include "core/text.hpp"
#include "model/findings.hpp"

namespace footbridge::assess {

/// A flag with the sentence of its rule.
Flag flag(const Tables& tables, RowId rule, Side side, Arguments arguments = {});

/// Inter-arm difference, one arm, posture, rest, method, difference between the legs.
void flagVisit(const Assessment& assessment, const std::vector<Index>& indices,
               const Tables& tables, std::vector<Flag>& flags);

/// What concerns one leg.
void flagLeg(const Leg& leg, std::vector<Flag>& flags);

}  // namespace footbridge::assess
