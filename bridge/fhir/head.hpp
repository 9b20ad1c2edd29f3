#pragma once
// Whose and by whom: references of a resource as parts of the input format.

#include <string>
#include <string_view>

#include "fhir/draft.hpp"

namespace footbridge::fhir {

/// A resource and the bundle that it came in, nullptr if it came alone.
struct Scope {
  const json::Value& resource;
  const json::Value* bundle = nullptr;

  /// What a Reference points to, contained or in the bundle; nullptr if it is not here.
  const json::Value* resolve(const json::Value& reference) const;
};

/// system and value of an Identifier as they stand.
json::Value identifierOf(const json::Value& identifier);

/// The patient of `subject`: its logical identifier first, then what the Patient itself says.
void putSubject(Draft& draft, const Scope& scope, const json::Value* subject);

/// Identifier and name of a person or an organisation.
void putParty(Draft& draft, const Scope& scope, const json::Value& reference,
              const std::string& pointer, const std::string& place);

/// The identifier of a visit or an order: logical, or that of the resource.
void putLink(Draft& draft, const Scope& scope, const json::Value& reference,
             const std::string& pointer, const std::string& place);

}  // namespace footbridge::fhir
