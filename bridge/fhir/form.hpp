#pragma once
// A QuestionnaireResponse as an assessment: its link ids are the paths of the input format.

#include "fhir/head.hpp"
#include "fhir/names.hpp"

namespace footbridge::fhir {

/// Puts everything of a response into the draft; what cannot be read is remarked on with its link
/// id.
void readForm(Draft& draft, const Scope& scope, const Names& names);

}  // namespace footbridge::fhir
