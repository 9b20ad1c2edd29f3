#pragma once
// The way back, for tests only: the readings out of a bundle, by code and body site alone.

#include "json/value.hpp"
#include "model/assessment.hpp"
#include "tables/tables.hpp"

namespace footbridge::test {

/// The readings that the Observations of a bundle hold.
Assessment readBundle(const json::Value& bundle, const Tables& tables);

/// The resources of that type, in order.
std::vector<const json::Value*> resources(const json::Value& bundle, std::string_view type);

/// The code of our own CodeSystem in a CodeableConcept; "" if it holds none.
std::string_view ownCode(const json::Value* codeable, const Tables& tables);

}  // namespace footbridge::test
