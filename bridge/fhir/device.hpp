#pragma once
// With what a reading was made.

#include "fhir/codes.hpp"
#include "fhir/draft.hpp"
#include "fhir/entries.hpp"

namespace footbridge::fhir {

/// Adds the device of an Observation to the instruments, once; its kind as coded, else that of what
/// measures such a reading.
void putInstrument(Draft& draft, const Entry& entry, const Entries& entries, const ItemRow& row,
                   const Codes& codes);

}  // namespace footbridge::fhir
