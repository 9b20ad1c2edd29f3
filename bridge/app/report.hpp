#pragma once
// Issues for people and for machines.

#include <iosfwd>
#include <string>

#include "app/pipeline.hpp"
#include "core/issue.hpp"

namespace footbridge::app {

/// One issue in two lines: severity, place, sentence and rule; then how to mend it.
void printIssue(std::ostream& out, const Issue& issue);

/// The issues as a FHIR OperationOutcome in one line. One without issues says that all is well.
std::string operationOutcome(const Issues& issues);

/// "a.json: accepted, 2 warnings" or "a.json: set aside, 1 error".
void printVerdict(std::ostream& out, const Outcome& outcome);

/// The verdict, and under it every issue that asks for attention.
void printOutcome(std::ostream& out, const Outcome& outcome);

}  // namespace footbridge::app
