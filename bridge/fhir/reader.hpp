#pragma once
// FHIR resources as texts in the input format, one an assessment.

#include <functional>
#include <vector>

#include "fhir/names.hpp"
#include "intake/texts.hpp"

namespace footbridge::fhir {

/// The assessments of one resource: a QuestionnaireResponse, a DiagnosticReport that contains its
/// results, or a Bundle of forms and Observations. Where there is none, one text with the reason.
/// What is refused keeps the resource as it came, of a bundle with several what is its own.
std::vector<intake::Text> textsOf(intake::Text resource, const Names& names);

/// Hands over the assessments of all resources of an input.
void forEachText(intake::Texts& resources, const Names& names,
                 const std::function<void(intake::Text)>& take);

}  // namespace footbridge::fhir
