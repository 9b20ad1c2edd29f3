#pragma once
// The clinical side of a definition of limb-threatening ischaemia: rest pain or tissue loss, and
// how long it has lasted.

#include "assess/leg.hpp"
#include "model/findings.hpp"
#include "tables/tables.hpp"

namespace footbridge::assess {

/// Remarks whether the condition is recorded and whether its duration is what the definition asks.
void remarkCondition(Grade& grade, const Leg& leg, const CltiDefinition& definition);

}  // namespace footbridge::assess
