#pragma once
// What a record server says it can do, and how bundles are sent to it because of that.

#include <string>
#include <vector>

#include "config/config.hpp"
#include "core/result.hpp"
#include "deliver/strategy.hpp"

namespace footbridge::deliver {

/// What the CapabilityStatement says of one resource type we write.
struct TypeAbility {
  std::string type;
  bool create = false;
  bool update = false;
  bool conditionalCreate = false;
  bool conditionalUpdate = false;
  bool updateCreate = false;  ///< PUT to an id that is not there makes it
  bool byIdentifier = false;  ///< search by identifier (Provenance: by _tag)
};

struct Ability {
  std::string software;
  std::string fhirVersion;
  bool json = false;
  bool transaction = false;
  bool batch = false;
  bool patientByIdentifier = false;   ///< needed where references to the patient are looked up
  std::vector<std::string> profiles;  ///< canonicals that it lists, without versions
  std::vector<TypeAbility> types;     ///< of the types a bundle holds, in a fixed order
};

/// One strategy and whether the server fits it.
struct Fit {
  config::Strategy strategy = config::Strategy::Transaction;
  bool fits = false;
  std::string because;  ///< what it promises, or what the statement lacks for it
};

/// The strategy and the reasons for it in whole sentences; what is lacking is among them.
struct Choice {
  config::Strategy strategy = config::Strategy::Transaction;
  bool possible = true;  ///< false: bundles cannot be delivered safely
  std::vector<std::string> because;
  std::vector<std::string> warnings;  ///< those of the reasons that say what is lacking
  std::vector<Fit> fits;              ///< each strategy, best first
};

/// Reads a CapabilityStatement (R4).
Result<Ability> readAbility(std::string_view capabilityStatement);

/// Chooses by what the server says, unless the configuration pins a strategy. `fhir` is the release
/// in which bundles are written: "4.0" (also for ""), "4.3" or "5.0".
Choice choose(const Ability& ability, config::Strategy pinned, std::string_view fhir);

/// True if the statement lists that for every type that decides: a word of word(Need).
bool lists(const Ability& ability, std::string_view need);

/// GET /metadata. Issues of type Transient if the server cannot be reached.
Result<Ability> askAbility(const config::Server& server);

/// The strategy to send with: the one that is pinned; else what the server says it can do, asked
/// now; else, if it cannot be asked, transactions. If it was asked and `possible` is false, nothing
/// may be sent.
Choice chooseNow(const config::Server& server, std::string_view fhir);

/// Why nothing is sent where it is not possible, and what to do about it.
std::string impossible(const Choice& choice);

}  // namespace footbridge::deliver
