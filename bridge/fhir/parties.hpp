#pragma once
// By whom results were found, for which organisation, on which visit and order.

#include "fhir/gather.hpp"
#include "fhir/head.hpp"

namespace footbridge::fhir {

/// Puts performer, organisation, encounter and order; of the report first, then of the Observations
/// in their order.
void putParties(Draft& draft, const Gathered& group, const Entries& entries);

}  // namespace footbridge::fhir
