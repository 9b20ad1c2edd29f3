#pragma once
// Issues for people and for machines.

#include <iosfwd>
#include <string>

#include "app/pipeline.hpp"
#include "core/issue.hpp"
#include "json/outcome.hpp"

namespace footbridge::app {

/// One issue in two lines: severity, place, sentence and rule; then how to mend it.
void printIssue(std::ostream& out, const Issue& issue);

using json::operationOutcome;

/// "a.json: accepted, 2 warnings" or "a.json: set aside, 1 error".
void printVerdict(std::ostream& out, const Outcome& outcome);

/// The verdict, and under it every issue that asks for attention.
void printOutcome(std::ostream& out, const Outcome& outcome);

}  // namespace footbridge::app
