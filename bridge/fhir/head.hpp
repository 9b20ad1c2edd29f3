#pragma once
// Whose and by whom: references of a resource as parts of the input format.

#include <string>
#include <string_view>

#include "fhir/draft.hpp"
#include "fhir/entries.hpp"

namespace footbridge::fhir {

/// A resource and what else is in the bundle that it came in; nullptr if it came alone.
struct Scope {
  const json::Value& resource;
  const Entries* entries = nullptr;
  const json::Value* container = nullptr;  ///< the resource that contains it, if one does

  /// What a Reference points to, contained or in the bundle; nullptr if it is not here.
  const json::Value* resolve(const json::Value& reference) const;
};

/// What kind of resource a reference means, by the resource itself where it is here, else by its
/// type or how it is written; "" if that does not tell.
std::string typeOf(const json::Value& reference, const json::Value* found);

/// The patient of `subject`: its logical identifier first, then what the Patient itself says.
void putSubject(Draft& draft, const Scope& scope, const json::Value* subject);

/// Identifier and name of a person or an organisation.
void putParty(Draft& draft, const Scope& scope, const json::Value& reference,
              const std::string& pointer, const std::string& place);

/// The identifier of a visit or an order: logical, or that of the resource.
void putLink(Draft& draft, const Scope& scope, const json::Value& reference,
             const std::string& pointer, const std::string& place);

}  // namespace footbridge::fhir
