#pragma once
// What a record server says it can do, and how bundles are sent to it because of that.

#include <string>
#include <vector>

#include "config/config.hpp"
#include "core/result.hpp"

namespace footbridge::deliver {

/// What the CapabilityStatement says of one resource type we write.
struct TypeAbility {
  std::string type;
  bool create = false;
  bool update = false;
  bool conditionalCreate = false;
  bool conditionalUpdate = false;
  bool byIdentifier = false;  ///< search by identifier (Provenance: by _tag)
};

struct Ability {
  std::string software;
  std::string fhirVersion;
  bool json = false;
  bool transaction = false;
  bool batch = false;
  std::vector<TypeAbility> types;  ///< of the types a bundle holds, in a fixed order
};

/// The strategy and the reasons for it in whole sentences; what is lacking is among them.
struct Choice {
  config::Strategy strategy = config::Strategy::Transaction;
  bool possible = true;  ///< false: bundles cannot be delivered safely
  std::vector<std::string> because;
};

/// Reads a CapabilityStatement (R4).
Result<Ability> readAbility(std::string_view capabilityStatement);

/// Chooses by what the server says, unless the configuration pins a strategy.
Choice choose(const Ability& ability, config::Strategy pinned);

/// GET /metadata. Issues of type Transient if the server cannot be reached.
Result<Ability> askAbility(const config::Server& server);

/// "auto" or "transaction".
std::string_view word(config::Strategy strategy);

}  // namespace footbridge::deliver
