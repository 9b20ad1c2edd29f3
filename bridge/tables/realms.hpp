#pragma once
// Rows of realms.json: what a realm asks of bundles beyond base R4.

#include <cstdint>
#include <map>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "tables/criteria.hpp"

namespace footbridge {

/// A profile of a realm that a resource may claim.
struct RealmProfile {
  std::string of;        ///< "result" | "loinc-result" | "blood-pressure" | "Patient"
  std::string url;       ///< canonical, without version
  bool checked = false;  ///< held against the published definition
  std::string source;
};

/// Elements of Observations of one kind, as "Observation.note"; [x] stands for any type.
struct RealmElements {
  std::string of;  ///< "result" | "blood-pressure"
  std::vector<std::string> elements;
  Source source;
};

/// Whether the pressures of an arm leave a second time, as a blood pressure with both its parts.
enum class ArmPanel : std::uint8_t { No, Yes };

struct Realm {
  std::string id;
  std::string name;
  std::vector<std::string> codingOrder;  ///< systems; those not named follow, ours comes last
  std::map<std::string, std::string, std::less<>> units;  ///< UCUM code -> what it is called
  std::vector<std::string> patientSystems;                ///< the first that a patient has is used
  ArmPanel armPanel = ArmPanel::No;
  std::vector<RealmProfile> profiles;
  std::vector<RealmElements> mustSupport;  ///< there wherever known, or what says why not
  std::vector<RealmElements> forbidden;    ///< never there
  Source source;
};

/// Whether a realm lets an element of results leave ("Observation.issued").
bool allows(const Realm& realm, std::string_view element);

/// Codes from which validators imply a vital-signs profile: system and code.
using ReservedCodes = std::vector<std::pair<std::string, std::string>>;

}  // namespace footbridge
