#pragma once
// Issues in the form in which FHIR tells them.

#include <string>

#include "core/issue.hpp"

namespace footbridge::json {

/// The issues as a FHIR OperationOutcome in one line. One without issues says that all is well.
std::string operationOutcome(const Issues& issues);

}  // namespace footbridge::json
