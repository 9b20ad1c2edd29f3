#pragma once
// The Observations of one assessment as a text in the input format.

#include "fhir/gather.hpp"
#include "fhir/names.hpp"
#include "intake/texts.hpp"

namespace footbridge::fhir {

/// The bundle that Observations came in.
struct Bundle {
  const json::Value& root;
  const Entries& entries;
  bool alone = false;  ///< it holds one assessment only
};

/// Everything of one assessment; what was not understood is remarked on with its entry.
intake::Text textOf(const Gathered& group, const Bundle& bundle, const Names& names);

}  // namespace footbridge::fhir
