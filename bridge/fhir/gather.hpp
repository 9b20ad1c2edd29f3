#pragma once
// Which Observations of a bundle belong to one assessment.

#include <functional>
#include <string>
#include <vector>

#include "fhir/entries.hpp"

namespace footbridge::fhir {

/// The Observations of one assessment, in the order of the bundle.
struct Gathered {
  Entry report;  ///< the DiagnosticReport; no resource if there is none
  std::vector<Entry> observations;
};

/// Each report with the results it names and their members, at any depth. Other Observations go
/// by subject and encounter, without an encounter by subject and day; they join the report, or the
/// encounter of that day, if there is just one. Reports without any reading that is `known` are
/// left to themselves: others would get their number and state.
std::vector<Gathered> gather(const json::Value& bundle, const Entries& entries,
                             const std::function<bool(const json::Value&)>& known);

/// Whom a resource is about, the same for all ways of referring to one patient of the bundle; ""
/// if it does not say.
std::string subjectOf(const Entry& entry, const Entries& entries);

/// effectiveDateTime, effectiveInstant, or the beginning of effectivePeriod; "" if there is none.
std::string_view effectiveOf(const json::Value& resource);

/// The name of the element that effectiveOf() is from.
std::string_view effectiveName(const json::Value& resource);

}  // namespace footbridge::fhir
